//! The daemon's side of a worker: start it, wait for its answer, make sense of its death.

use std::path::Path;
use std::process::Stdio;

use seamwright_contract::Fault;
use tokio::io::AsyncReadExt as _;
use tokio::process::Command;

use super::worker::{Answer, FaultForm, Task};

/// The most an answer may say.
const LONGEST_ANSWER: u64 = 1 << 20;

/// How the program was started, so that a worker is started alike.
#[derive(Debug, Clone)]
pub(crate) struct Invocation {
    /// The program itself.
    pub(crate) program: std::path::PathBuf,
    /// What stood before the verb: `--config …`, `--log …`.
    pub(crate) arguments: Vec<std::ffi::OsString>,
}

/// Works one job in a process of its own.
///
/// # Errors
/// A sentence where the process could not be started or died without an answer.
pub(crate) async fn work(task: &Task, invocation: &Invocation) -> Result<Answer, String> {
    let words = serde_json::to_string(task).map_err(|why| why.to_string())?;
    let mut child = Command::new(&invocation.program)
        .args(&invocation.arguments)
        .arg("work")
        .arg(words)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        // A signal from the terminal is for the daemon, which then decides about its workers.
        .process_group(0)
        .kill_on_drop(true)
        .spawn()
        .map_err(|why| format!("the worker could not be started: {why}"))?;
    let open = child.stdin.take();
    let mut said = Vec::new();
    if let Some(out) = child.stdout.take() {
        out.take(LONGEST_ANSWER).read_to_end(&mut said).await.map_err(|why| why.to_string())?;
    }
    let status = child.wait().await.map_err(|why| why.to_string())?;
    drop(open);
    serde_json::from_slice(&said).map_err(|_| format!("the worker ended without an answer ({status})"))
}

/// The refusal of a job whose worker died twice.
pub(crate) fn died(why: &str, claim: &Path) -> Answer {
    let fault =
        Fault::defect(format!("The job could not be worked: {why}, twice.")).at(claim.display().to_string());
    Answer::Faults(vec![FaultForm::from(fault)])
}
