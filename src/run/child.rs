//! The daemon's side of a worker: start it, tell it its task, wait for its answer, make sense of its death.
//!
//! A worker usually works one task. Where jobs of the same artwork follow, it stays for them: what it has decoded, drawn
//! and compressed serves them too. It is ended as soon as something else is to be worked, when nothing comes for a while,
//! and when a task went wrong. So a job that has a worker for itself is not disturbed by what others left.

use std::ffi::OsString;
use std::io;
use std::os::unix::process::ExitStatusExt as _;
use std::path::PathBuf;
use std::pin::Pin;
use std::process::{ExitStatus, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};
use seamwright_contract::{Blame, Fault};
use tokio::io::{AsyncBufReadExt as _, AsyncReadExt as _, AsyncWriteExt as _, BufReader, Take};
use tokio::process::{Child, ChildStdin, ChildStdout, Command};

use super::task::{Answer, FaultForm, Said, Task};

/// The most that a worker may say to one task.
const LONGEST_ANSWER: u64 = 1 << 20;

/// So long a worker waits for another task.
const PATIENCE: Duration = Duration::from_secs(5);

/// How a task is worked: in a process, or by a stand-in in tests.
pub(crate) type Worker = Arc<dyn Fn(Task) -> Working + Send + Sync>;

/// A task being worked.
pub(crate) type Working = Pin<Box<dyn Future<Output = Result<Answer, Death>> + Send>>;

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
    /// Works tasks in processes.
    pub(crate) fn worker(self) -> Worker {
        let workers = Arc::new(Workers { invocation: self, waiting: Mutex::new(Vec::new()) });
        Arc::new(move |task| Box::pin(work(Arc::clone(&workers), task)))
    }

    /// A worker to begin with this task. It is named for whoever lists the processes.
    fn start(&self, first: &Task) -> io::Result<Running> {
        let mut child = Command::new(&self.program)
            .args(&self.arguments)
            .args(["work", "--memory", &first.memory.to_string(), "--", &first.name])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            // A signal from the terminal is for the daemon, which then decides about its workers.
            .process_group(0)
            .kill_on_drop(true)
            .spawn()?;
        let (Some(told), Some(says)) = (child.stdin.take(), child.stdout.take()) else {
            return Err(io::Error::other("it has no pipes"));
        };
        Ok(Running { child, told, says: BufReader::new(says.take(0)) })
    }
}

/// A worker's process.
#[derive(Debug)]
struct Running {
    child: Child,
    told: ChildStdin,
    says: BufReader<Take<ChildStdout>>,
}

impl Running {
    /// Tells it a task, and hears it to the answer; nothing where it ends without one.
    async fn hear(&mut self, task: &Task) -> io::Result<Option<Answer>> {
        let mut line = serde_json::to_vec(task)?;
        line.push(b'\n');
        // Whether it takes the task is seen by whether it answers.
        drop(self.told.write_all(&line).await);
        self.says.get_mut().set_limit(LONGEST_ANSWER);
        let mut line = String::new();
        while self.says.read_line(&mut line).await? > 0 {
            match serde_json::from_str(&line) {
                Ok(Said::Far(word)) => {
                    if let Some(heard) = &task.heard {
                        heard(word);
                    }
                }
                Ok(Said::Answer(answer)) => return Ok(Some(answer)),
                Err(_) => return Ok(None),
            }
            line.clear();
        }
        Ok(None)
    }

    /// How it ended, once nobody tells it anything any more.
    async fn ended(self) -> io::Result<ExitStatus> {
        let Self { mut child, told, says } = self;
        drop((told, says));
        if let Ok(status) = tokio::time::timeout(PATIENCE, child.wait()).await {
            return status;
        }
        end_group(&child);
        child.wait().await
    }
}

/// A worker that waits for another task of its kin.
#[derive(Debug)]
struct Waiting {
    running: Running,
    /// What it worked last.
    task: Task,
}

impl Waiting {
    /// Whether it may work a task, with what it holds already.
    fn suits(&self, task: &Task) -> bool {
        task.kin.is_some()
            && (&self.task.kin, &self.task.settings) == (&task.kin, &task.settings)
            && self.task.memory <= task.memory
    }
}

/// All workers that are not at work.
#[derive(Debug)]
struct Workers {
    invocation: Invocation,
    waiting: Mutex<Vec<Waiting>>,
}

impl Workers {
    /// One that suits the task. Those that suit none like it go, for what they hold is promised to it.
    fn take(&self, task: &Task) -> Option<Waiting> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.retain(|waiting| waiting.suits(task));
        waiting.pop()
    }

    /// Lets one wait for a while.
    fn keep(self: Arc<Self>, running: Running, task: Task) {
        let id = running.child.id();
        let waiting = || self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting().push(Waiting { running, task });
        tokio::spawn(async move {
            tokio::time::sleep(PATIENCE).await;
            self.waiting
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .retain(|waiting| waiting.running.child.id() != id);
        });
    }
}

async fn work(workers: Arc<Workers>, mut task: Task) -> Result<Answer, Death> {
    let outside = |why: io::Error| Death::FromOutside(format!("the worker cannot be run: {why}"));
    let mut running = match workers.take(&task) {
        Some(Waiting { running, task: last }) => {
            task.memory = last.memory;
            running
        }
        None => workers.invocation.start(&task).map_err(outside)?,
    };
    let Ok(heard) = tokio::time::timeout(task.time, running.hear(&task)).await else {
        end_group(&running.child);
        return Ok(too_long(&task));
    };
    let Some(answer) = heard.map_err(outside)? else {
        // Whatever it says that is no answer, it is not listened to any longer.
        return Err(death(running.ended().await.map_err(outside)?));
    };
    if task.kin.is_some() && task.keep > 0 && !matches!(answer, Answer::Faults(_)) {
        workers.keep(running, task);
    } else {
        running.ended().await.map_err(outside)?;
    }
    Ok(answer)
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
    use super::super::task::{Heard, Kin, What};
    use super::*;

    fn task() -> Task {
        Task {
            name: "chart-123456".to_owned(),
            source: "/claim".into(),
            staging: "/staging".into(),
            settings: "/settings".into(),
            studio: "/studio".into(),
            memory: 1,
            keep: 0,
            threads: 1,
            what: What::Job,
            panels: Vec::new(),
            kin: None,
            heard: None,
            time: Duration::from_secs(20),
        }
    }

    /// A shell in place of the program.
    fn shell(script: &str) -> Worker {
        let arguments = vec!["-c".into(), script.into(), "sh".into()];
        Invocation { program: "/bin/sh".into(), arguments }.worker()
    }

    const DONE: &str = r#"echo '{"answer":{"done":{"sheets":6,"warnings":["coarse"]}}}'"#;

    fn done() -> Answer {
        Answer::Done { sheets: 6, warnings: vec!["coarse".to_owned()] }
    }

    #[tokio::test]
    async fn an_answer_is_heard_and_the_task_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let told = folder.path().join("told");
        let script = format!(
            r#"test "$*" = "work --memory 1 -- chart-123456" || exit 9; head -n 1 > {}; echo '{{"far":{{"sheet":1,"of":6}}}}'; {DONE}"#,
            told.display()
        );
        let words = Arc::new(Mutex::new(Vec::new()));
        let hear = Arc::clone(&words);
        let heard: Heard = Arc::new(move |word| hear.lock().unwrap().push((word.sheet, word.of)));
        assert_eq!(shell(&script)(Task { heard: Some(heard), ..task() }).await, Ok(done()));
        assert_eq!(*words.lock().unwrap(), [(1, 6)]);
        let told: Task = serde_json::from_slice(&std::fs::read(told).unwrap()).unwrap();
        assert_eq!((told.name, told.source), (task().name, task().source));
    }

    #[tokio::test]
    async fn a_worker_that_hangs_is_ended_with_all_it_started() {
        let folder = tempfile::tempdir().unwrap();
        let sign = folder.path().join("still-alive");
        let script = format!("(sleep 1; touch {}) & sleep 100", sign.display());
        let answer = shell(&script)(Task { time: Duration::from_millis(200), ..task() }).await;
        assert!(matches!(&answer, Ok(Answer::Faults(faults)) if faults.len() == 1), "{answer:?}");
        tokio::time::sleep(Duration::from_millis(1_500)).await;
        assert!(!sign.exists(), "what it had started is ended too");
    }

    #[tokio::test]
    async fn deaths_are_told_apart() {
        for script in ["exit 3", "echo nonsense", "kill -ABRT $$", "kill -KILL $$"] {
            let death = shell(script)(task()).await;
            assert!(matches!(death, Err(Death::AtWork(_))), "{script}: {death:?}");
        }
        let told = shell("kill -TERM $$")(task()).await;
        assert!(matches!(told, Err(Death::FromOutside(_))), "{told:?}");
        let none = Invocation { program: "/no/such/program".into(), arguments: Vec::new() };
        assert!(matches!(none.worker()(task()).await, Err(Death::FromOutside(_))), "not the job's doing");
    }

    /// Says with each answer which process it is and which of its tasks this was.
    const COUNTING: &str = r#"n=0; while read -r line; do n=$((n + 1)); echo "{\"answer\":{\"done\":{\"sheets\":$n,\"warnings\":[\"$$\"]}}}"; done"#;

    #[tokio::test]
    async fn a_worker_stays_for_its_kin_and_for_nobody_else() {
        let worker = shell(COUNTING);
        let rows =
            |name: &str, keep: u64| Task { kin: Some(Kin::Rows(name.to_owned())), keep, memory: 8, ..task() };
        let nth = async |task: Task| match worker(task).await {
            Ok(Answer::Done { sheets, .. }) => sheets,
            other => panic!("{other:?}"),
        };
        assert_eq!(nth(rows("moons", 1)).await, 1);
        assert_eq!(nth(rows("moons", 1)).await, 2, "the same worker");
        assert_eq!(nth(Task { memory: 9, ..rows("moons", 1) }).await, 3, "more memory does no harm");
        assert_eq!(nth(Task { memory: 7, ..rows("moons", 1) }).await, 1, "it holds more than this may");
        assert_eq!(
            nth(Task { settings: "/new".into(), memory: 7, ..rows("moons", 1) }).await,
            1,
            "other settings"
        );
        assert_eq!(nth(rows("tides", 1)).await, 1);
        assert_eq!(nth(rows("moons", 1)).await, 1, "what waited for others is gone");
        assert_eq!(nth(rows("moons", 0)).await, 2, "the last");
        assert_eq!(nth(rows("moons", 1)).await, 1, "after the last it went");
        assert_eq!((nth(task()).await, nth(task()).await), (1, 1), "who has no kin never shares");
    }

    #[tokio::test]
    async fn a_worker_that_died_while_it_waited_is_replaced_at_the_second_try() {
        let worker = shell(&format!("read -r line; {DONE}"));
        let task = || Ok(Task { kin: Some(Kin::Bytes(7)), keep: 1, ..task() });
        for _ in 0..3 {
            assert_eq!(ask(&worker, task).await.unwrap(), Ok(done()));
        }
    }
}
