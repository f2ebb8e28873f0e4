//! Every command line that people are told is one the program takes.

use clap::Parser as _;

use super::Arguments;

/// A command line ends where the sentence goes on.
const ENDS: [&str; 4] = ["`", "|", "  ", ";"];

/// The command lines in a text, from the program's name on.
fn commands(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut block = false;
    for line in text.lines() {
        block ^= line.starts_with("```");
        let line = line.trim_start();
        let line = line.replace("cargo run --release -- ", "seamwright ");
        let marked = line.match_indices("`seamwright ").map(|(at, _)| at + 1);
        let begins: Vec<usize> =
            if line.starts_with("seamwright ") && !block { vec![0] } else { marked.collect() };
        for begin in begins {
            let rest = line.get(begin..).unwrap_or_default();
            let end = ENDS.iter().filter_map(|end| rest.find(end)).min().unwrap_or(rest.len());
            found.push(rest.get(..end).unwrap_or_default().trim().to_owned());
        }
    }
    found
}

#[test]
fn the_readmes_command_lines_are_taken() {
    let readme = include_str!("../../README.md");
    let commands = commands(readme);
    assert!(commands.len() > 20, "{commands:#?} are not all");
    for command in commands {
        let taken = Arguments::try_parse_from(command.split_whitespace());
        assert!(taken.is_ok(), "`{command}`: {}", taken.err().map(|why| why.to_string()).unwrap_or_default());
    }
}
