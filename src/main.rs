//! The program `seamwright`.

fn main() -> std::process::ExitCode {
    seamwright::main()
}
