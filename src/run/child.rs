//! The daemon's side of a worker: start it, wait for its answer, make sense of its death.

use std::ffi::OsString;
use std::io;
use std::os::unix::process::ExitStatusExt as _;
use std::path::PathBuf;
use std::pin::Pin;
use std::process::{ExitStatus, Stdio};
use std::sync::Arc;

use rustix::process::{Pid, Signal, kill_process_group};
use seamwright_contract::{Blame, Fault};
use serde::{Deserialize, Serialize};
use tokio::io::{AsyncBufReadExt as _, AsyncRead, AsyncReadExt as _, BufReader};
use tokio::process::{Child, Command};

use super::worker::{Answer, FaultForm, Task};

/// The most an answer may say.
const LONGEST_ANSWER: u64 = 1 << 20;

/// How a task is worked: in a process of its own, or by a stand-in in tests.
pub(crate) type Worker = Arc<dyn Fn(Task) -> Working + Send + Sync>;

/// A task being worked.
pub(crate) type Working = Pin<Box<dyn Future<Output = Result<Answer, Death>> + Send>>;

/// How far a worker is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Word {
    /// The sheets that are made.
    pub(crate) sheet: usize,
    /// All there will be.
    pub(crate) of: usize,
}

/// Hears how far a worker is.
pub(crate) type Heard = Arc<dyn Fn(Word) + Send + Sync>;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Death {
    /// The worker could not be started, or was told to stop: not the job's doing.
    FromOutside(String),
    /// It died at work.
    AtWork(String),
}

/// How the program was started, so that a worker is started alike.
#[derive(Debug, Clone)]
pub(crate) struct Invocation {
    /// The program itself.
    pub(crate) program: PathBuf,
    /// What stood before the verb: `--config …`, `--log …`.
    pub(crate) arguments: Vec<OsString>,
}

impl Invocation {
    /// Works each task in a process of its own.
    pub(crate) fn worker(self) -> Worker {
        let invocation = Arc::new(self);
        Arc::new(move |task| {
            let invocation = Arc::clone(&invocation);
            Box::pin(async move { invocation.work(&task).await })
        })
    }

    async fn work(&self, task: &Task) -> Result<Answer, Death> {
        let outside = |why: io::Error| Death::FromOutside(format!("the worker cannot be run: {why}"));
        let mut child = Command::new(&self.program)
            .args(&self.arguments)
            .arg("work")
            .args(["--memory", &task.memory.to_string(), "--threads", &task.threads.to_string()])
            .args(["--as", task.what.word()])
            .args(task.panels.iter().map(|panel| format!("--panels={panel}")))
            .args([
                "--settings".as_ref(),
                task.settings.as_os_str(),
                "--studio".as_ref(),
                task.studio.as_os_str(),
            ])
            .arg("--")
            .args([task.name.as_ref(), task.source.as_os_str(), task.staging.as_os_str()])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            // A signal from the terminal is for the daemon, which then decides about its workers.
            .process_group(0)
            .kill_on_drop(true)
            .spawn()
            .map_err(outside)?;
        let open = child.stdin.take();
        let mut said = String::new();
        let listening = async {
            if let Some(out) = child.stdout.take() {
                said = answer(out, task.heard.as_ref()).await?;
            }
            child.wait().await
        };
        let Ok(status) = tokio::time::timeout(task.time, listening).await else {
            end_group(&child);
            return Ok(too_long(task));
        };
        drop(open);
        let status = status.map_err(outside)?;
        serde_json::from_str(&said).map_err(|_| death(status))
    }
}

/// The last line a worker says, which is its answer; those before tell how far it is.
async fn answer(out: impl AsyncRead + Unpin, heard: Option<&Heard>) -> io::Result<String> {
    let mut lines = BufReader::new(out.take(LONGEST_ANSWER)).lines();
    let mut last = String::new();
    while let Some(line) = lines.next_line().await? {
        if let (Some(heard), Ok(word)) = (heard, serde_json::from_str::<Word>(&line)) {
            heard(word);
        }
        last = line;
    }
    Ok(last)
}

/// Ends a worker and whatever it started.
fn end_group(child: &Child) {
    let group = child.id().and_then(|id| i32::try_from(id).ok()).and_then(Pid::from_raw);
    if let Some(Err(why)) = group.map(|group| kill_process_group(group, Signal::KILL)) {
        tracing::warn!(%why, "a worker that took too long could not be ended");
    }
}

/// The refusal of a job that took too long.
fn too_long(task: &Task) -> Answer {
    let fault = Fault::artwork(
        format!("Working this job took longer than {} s and was given up.", task.time.as_secs()),
        "Try a smaller picture or fewer pixels per inch, or raise `limits: {time: …}` in seamwright.yaml.",
    );
    Answer::Faults(vec![FaultForm::from(fault.at(&*task.name))])
}

/// What the end of a worker without an answer means.
fn death(status: ExitStatus) -> Death {
    match status.signal() {
        // Hang-up, interrupt, quit, terminate: whoever stops the service often tells its children too.
        Some(1 | 2 | 3 | 15) => Death::FromOutside(format!("the worker was told to stop ({status})")),
        Some(9) => Death::AtWork(format!("it was ended by the system, as when memory runs out ({status})")),
        _ => Death::AtWork(format!("it ended without an answer ({status})")),
    }
}

/// The worker's answer; one that dies at work is given a second try, with its task made afresh. The inner error is
/// trouble from outside.
pub(super) async fn ask(
    worker: &Worker,
    task: impl Fn() -> io::Result<Task>,
) -> io::Result<Result<Answer, String>> {
    let mut second = false;
    loop {
        let task = task()?;
        let name = task.name.clone();
        match worker(task).await {
            Ok(answer) => return Ok(Ok(answer)),
            Err(Death::FromOutside(why)) => return Ok(Err(why)),
            Err(Death::AtWork(why)) if second => return Ok(Ok(died(&why, &name))),
            Err(Death::AtWork(why)) => {
                tracing::warn!(job = %name, %why, "the worker died; tried once more");
                second = true;
            }
        }
    }
}

/// The refusal of a job whose worker died twice.
fn died(why: &str, name: &str) -> Answer {
    let fault = Fault::new(
        Blame::Defect,
        format!("Working this job failed twice; the last time {why}."),
        "A smaller picture, or a smaller `memory` in seamwright.yaml, may help. Please report this with the job's folder.",
    );
    Answer::Faults(vec![FaultForm::from(fault.at(name))])
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;
    use std::time::Duration;

    use super::super::worker::What;
    use super::*;

    fn task() -> Task {
        Task {
            name: "chart-123456".to_owned(),
            source: "/claim".into(),
            staging: "/staging".into(),
            settings: "/settings".into(),
            studio: "/studio".into(),
            memory: 1,
            threads: 1,
            what: What::Job,
            panels: Vec::new(),
            heard: None,
            time: Duration::from_secs(20),
        }
    }

    /// A shell in place of the program.
    fn shell(script: &str) -> Invocation {
        Invocation { program: "/bin/sh".into(), arguments: vec!["-c".into(), script.into(), "sh".into()] }
    }

    #[tokio::test]
    async fn an_answer_is_heard_and_the_task_is_told() {
        let script = r#"test "$1 $3 $5 $7 $9 $*" = "work 1 1 job /settings $*" || exit 9
            shift 10; test "$1" = /studio || exit 7
            shift 2; test "$*" = "chart-123456 /claim /staging" || exit 8
            echo '{"sheet":1,"of":6}'; echo '{"done":{"sheets":6,"warnings":["coarse"]}}'"#;
        let done = Answer::Done { sheets: 6, warnings: vec!["coarse".to_owned()] };
        let words = Arc::new(Mutex::new(Vec::new()));
        let told = Arc::clone(&words);
        let heard: Heard = Arc::new(move |word| told.lock().unwrap().push((word.sheet, word.of)));
        assert_eq!(shell(script).work(&Task { heard: Some(heard), ..task() }).await, Ok(done));
        assert_eq!(*words.lock().unwrap(), [(1, 6)]);
    }

    #[tokio::test]
    async fn a_worker_that_hangs_is_ended_with_all_it_started() {
        let folder = tempfile::tempdir().unwrap();
        let sign = folder.path().join("still-alive");
        let script = format!("(sleep 1; touch {}) & sleep 100", sign.display());
        let task = Task { time: Duration::from_millis(200), ..task() };
        let answer = shell(&script).work(&task).await;
        assert!(matches!(&answer, Ok(Answer::Faults(faults)) if faults.len() == 1), "{answer:?}");
        tokio::time::sleep(Duration::from_millis(1_500)).await;
        assert!(!sign.exists(), "what it had started is ended too");
    }

    #[tokio::test]
    async fn deaths_are_told_apart() {
        for script in ["exit 3", "echo nonsense", "kill -ABRT $$", "kill -KILL $$"] {
            let death = shell(script).work(&task()).await;
            assert!(matches!(death, Err(Death::AtWork(_))), "{script}: {death:?}");
        }
        let told = shell("kill -TERM $$").work(&task()).await;
        assert!(matches!(told, Err(Death::FromOutside(_))), "{told:?}");
        let none = Invocation { program: "/no/such/program".into(), arguments: Vec::new() };
        assert!(matches!(none.work(&task()).await, Err(Death::FromOutside(_))), "not the job's doing");
    }
}
