//! `seamwright manual`: the manual's pages and the shells' completions, made of the one definition of the command line, laid
//! out as folders called `share` are.

use std::fs::{self, File};
use std::io;
use std::path::Path;

use clap::{Command, ValueEnum as _};
use clap_complete::{Shell, generate};

/// Writes them; what lies there of an earlier version is replaced. Says where.
///
/// # Errors
/// Why they cannot be written.
pub(crate) fn write(mut command: Command, share: &Path) -> io::Result<Vec<String>> {
    let pages = share.join("man/man1");
    fs::create_dir_all(&pages)?;
    clap_mangen::generate_to(command.clone(), &pages)?;
    let mut said = vec![format!("manual       {}", pages.display())];
    let name = command.get_name().to_owned();
    for shell in Shell::value_variants() {
        let Some((folder, file)) = place(*shell) else { continue };
        let folder = share.join(folder);
        fs::create_dir_all(&folder)?;
        let file = folder.join(file);
        generate(*shell, &mut command, &name, &mut File::create(&file)?);
        said.push(format!("completions  {}", file.display()));
    }
    Ok(said)
}

/// Where a shell looks for its completions of this program in such a folder; those that look nowhere have none.
fn place(shell: Shell) -> Option<(&'static str, &'static str)> {
    match shell {
        Shell::Bash => Some(("bash-completion/completions", "seamwright")),
        Shell::Fish => Some(("fish/vendor_completions.d", "seamwright.fish")),
        Shell::Zsh => Some(("zsh/site-functions", "_seamwright")),
        _ => None,
    }
}
