//! The loop with a worker of the tests' own and a clock that runs ahead whenever nothing is to be done.

use std::fs;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use seamwright_contract::Fault;
use tempfile::TempDir;

use super::child::{Death, Working};
use super::task::{Answer, FaultForm, Task};
use super::{Daemon, Settings, Tally, Until, World};
use crate::config;
use crate::journal::files::{move_no_replace, write_whole};

struct Studio {
    folder: TempDir,
    said: Vec<String>,
    full: fn() -> bool,
}

fn studio(settings: &str) -> Studio {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("incoming")).unwrap();
    write_whole(&folder.path().join(config::FILE), format!("quiet: 0s\n{settings}").as_bytes()).unwrap();
    Studio { folder, said: Vec::new(), full: || false }
}

impl Studio {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn put(&self, stem: &str) {
        for (ending, text) in [("png", "pixels of "), ("yaml", "order of ")] {
            let path = self.path("incoming").join(format!("{stem}.{ending}"));
            write_whole(&path, format!("{text}{stem}").as_bytes()).unwrap();
        }
    }

    /// The visible names in one of the studio's folders.
    fn names(&self, folder: &str) -> Vec<String> {
        let names = fs::read_dir(self.path(folder)).unwrap();
        let mut names: Vec<String> =
            names.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.retain(|name| !name.starts_with('.') && name != "index.html");
        names.sort();
        names
    }

    fn settings(&self) -> Settings {
        let file = self.path(config::FILE);
        Settings::new(config::load(Some(&file)).unwrap(), Some(&file)).unwrap()
    }

    fn daemon(
        &self,
        until: Until,
        work: impl Fn(&Task, usize) -> Result<Answer, Death> + Send + Sync + 'static,
    ) -> Daemon {
        let settings = self.settings();
        let calls = Mutex::new(0);
        let worker = move |task: Task| -> Working {
            let call = {
                let mut calls = calls.lock().unwrap();
                *calls += 1;
                *calls
            };
            let answer = work(&task, call);
            Box::pin(async { answer })
        };
        let full = self.full;
        let world = World {
            worker: Arc::new(worker),
            short_of_room: Box::new(move |_| full().then(|| "no room".to_owned())),
            read_again: Arc::default(),
        };
        Daemon::open(settings, world, until).unwrap()
    }

    async fn once(
        &mut self,
        work: impl Fn(&Task, usize) -> Result<Answer, Death> + Send + Sync + 'static,
    ) -> Tally {
        let daemon = self.daemon(Until::WorkedOff, work);
        daemon.run(std::future::pending(), &mut |line| self.said.push(line.to_owned())).await
    }
}

fn done(task: &Task) -> Result<Answer, Death> {
    write_whole(&task.staging.join("sheets.pdf"), b"a page").unwrap();
    Ok(Answer::Done { sheets: 6, warnings: vec!["coarse".to_owned()] })
}

fn fails(fault: Fault) -> Result<Answer, Death> {
    Ok(Answer::Faults(vec![FaultForm::from(fault)]))
}

#[tokio::test(start_paused = true)]
async fn a_batch_works_off_what_is_there() {
    let mut studio = studio("");
    for n in 0..20 {
        studio.put(&format!("chart{n}"));
    }
    let tally = studio.once(|task, _| done(task)).await;
    assert_eq!(tally, Tally { finished: 20, refused: 0, left: 0 });
    assert_eq!((studio.names("outgoing").len(), studio.names("kept").len()), (20, 20));
    assert!(studio.names("incoming").is_empty(), "all were taken");
    let job = &studio.names("outgoing")[0];
    let line = format!("done     {job}: 6 sheets, 1 warning -> outgoing/{job}");
    assert!(studio.said.contains(&line), "{:?}", studio.said);
    assert_eq!(fs::read_to_string(studio.path("kept/.history.jsonl")).unwrap().lines().count(), 20);
}

#[tokio::test(start_paused = true)]
async fn a_refusal_concerns_its_job_alone() {
    let mut studio = studio("");
    studio.put("chart");
    studio.put("gulls");
    let tally =
        studio
            .once(|task, _| {
                if task.name.starts_with("gulls") { fails(Fault::order("No.", "Yes.")) } else { done(task) }
            })
            .await;
    assert_eq!(tally, Tally { finished: 1, refused: 1, left: 0 });
    let refused = &studio.names("refused")[0];
    let inside = studio.names(&format!("refused/{refused}"));
    assert_eq!(inside, ["gulls.png", "gulls.yaml", "why.txt"]);
}

#[tokio::test(start_paused = true)]
async fn a_worker_that_dies_once_is_forgiven_and_twice_is_not() {
    let mut studio = studio("");
    studio.put("chart");
    let tally = studio
        .once(|task, call| if call == 1 { Err(Death::AtWork("it fell".to_owned())) } else { done(task) })
        .await;
    assert_eq!(tally.finished, 1);
    studio.put("gulls");
    let tally = studio.once(|_, _| Err(Death::AtWork("it fell".to_owned()))).await;
    assert_eq!(tally, Tally { finished: 0, refused: 1, left: 0 });
    let why = fs::read_to_string(studio.path("refused").join(&studio.names("refused")[0]).join("why.txt"));
    assert!(why.unwrap().contains("it fell"), "what is known is said");
}

#[tokio::test(start_paused = true)]
async fn trouble_of_the_machine_passes_or_a_batch_gives_up() {
    let mut studio = studio("");
    studio.put("chart");
    let full = || fails(Fault::machine("The disk is full.", "Make room."));
    let began = tokio::time::Instant::now();
    let tally = studio.once(move |task, call| if call < 3 { full() } else { done(task) }).await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
    assert!(began.elapsed() >= Duration::from_secs(15), "after pauses of 5 and 10 s: {:?}", began.elapsed());

    studio.put("gulls");
    let tally = studio.once(move |_, _| full()).await;
    assert_eq!(tally, Tally { finished: 0, refused: 0, left: 1 });
    assert_eq!(studio.names("incoming"), ["gulls.png", "gulls.yaml"]);
    assert!(studio.names("incoming/.claimed").is_empty(), "nothing stays between");
}

#[tokio::test(start_paused = true)]
async fn a_worker_stopped_from_outside_is_no_fault_of_the_job() {
    let mut studio = studio("");
    studio.put("chart");
    let stopped = || Err(Death::FromOutside("told to stop".to_owned()));
    let tally = studio.once(move |task, call| if call < 3 { stopped() } else { done(task) }).await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
}

#[tokio::test(start_paused = true)]
async fn without_room_nothing_is_begun() {
    let mut studio = studio("");
    studio.full = || true;
    studio.put("chart");
    let tally = studio.once(|_, _| panic!("nothing is begun")).await;
    assert_eq!(tally, Tally { finished: 0, refused: 0, left: 1 });
    assert_eq!(studio.names("incoming"), ["chart.png", "chart.yaml"]);
}

#[tokio::test(start_paused = true)]
async fn a_file_that_grows_while_it_is_worked_goes_back_and_is_made_anew() {
    let mut studio = studio("");
    studio.put("chart");
    let grow = |task: &Task| {
        let mut file = fs::OpenOptions::new().append(true).open(task.source.join("chart.png")).unwrap();
        std::io::Write::write_all(&mut file, b" and more").unwrap();
    };
    let tally = studio
        .once(move |task, call| {
            if call == 1 {
                grow(task);
            }
            done(task)
        })
        .await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
    let kept = studio.path("kept").join(&studio.names("kept")[0]).join("chart.png");
    assert_eq!(fs::read(kept).unwrap(), b"pixels of chart and more");
    assert_eq!(studio.names("outgoing").len(), 1);
}

#[tokio::test(start_paused = true)]
async fn an_inbox_that_is_taken_away_is_waited_for() {
    let studio = studio("wait: 1s\n");
    let daemon = studio.daemon(Until::Told, |task, _| done(task));
    let incoming = studio.path("incoming");
    let stop = async {
        tokio::time::sleep(Duration::from_secs(10)).await;
        fs::remove_dir_all(&incoming).unwrap();
        tokio::time::sleep(Duration::from_secs(10)).await;
        fs::create_dir(&incoming).unwrap();
        studio.put("chart");
        tokio::time::sleep(Duration::from_secs(60)).await;
    };
    let tally = daemon.run(stop, &mut |_| {}).await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
}

#[tokio::test(start_paused = true)]
async fn what_was_being_worked_comes_back_with_the_inbox() {
    let studio = studio("");
    studio.put("chart");
    let (incoming, away) = (studio.path("incoming"), studio.path("away"));
    let leave = (incoming.clone(), away.clone());
    let daemon = studio.daemon(Until::Told, move |task, call| {
        if call == 1 {
            move_no_replace(&leave.0, &leave.1).unwrap();
        }
        done(task)
    });
    let stop = async {
        tokio::time::sleep(Duration::from_secs(30)).await;
        move_no_replace(&away, &incoming).unwrap();
        tokio::time::sleep(Duration::from_secs(60)).await;
    };
    let tally = daemon.run(stop, &mut |_| {}).await;
    assert_eq!(tally.finished, 1, "without a new start");
    assert_eq!(studio.names("kept").len(), 1);
    assert_eq!(studio.names("incoming/.claimed").len(), 0);
}

#[tokio::test(start_paused = true)]
async fn what_an_earlier_run_left_is_worked_first() {
    let mut studio = studio("");
    studio.put("chart");
    let daemon = studio.daemon(Until::Told, |_, _| Err(Death::FromOutside("told to stop".to_owned())));
    daemon.run(tokio::time::sleep(Duration::from_secs(4)), &mut |_| {}).await;
    assert_eq!(studio.names("incoming/.claimed").len(), 1, "it stays claimed");
    let tally = studio.once(|task, _| done(task)).await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
}

#[tokio::test(start_paused = true)]
async fn the_maker_puts_first_and_holds_by_moving_files() {
    let mut studio = studio("workers: 1\nmemory: 128MiB\n");
    for stem in ["a", "b", "c"] {
        studio.put(stem);
    }
    for (stem, folder) in [("c", "first"), ("a", "hold")] {
        let to = studio.path("incoming").join(folder);
        fs::create_dir_all(&to).unwrap();
        for ending in ["png", "yaml"] {
            let name = format!("{stem}.{ending}");
            move_no_replace(&studio.path("incoming").join(&name), &to.join(&name)).unwrap();
        }
    }
    let tally = studio.once(|task, _| done(task)).await;
    assert_eq!(tally, Tally { finished: 2, refused: 0, left: 0 });
    let order: Vec<char> = studio
        .said
        .iter()
        .filter(|line| line.starts_with("done"))
        .map(|line| line.chars().nth(9).unwrap())
        .collect();
    assert_eq!(order, ['c', 'b'], "{:?}", studio.said);
    assert_eq!(studio.names("incoming/hold"), ["a.png", "a.yaml"], "held");
}

#[tokio::test(start_paused = true)]
async fn what_is_put_first_overtakes_a_queue_that_waits_already() {
    let studio = studio("workers: 1\nmemory: 128MiB\n");
    for n in 0..30 {
        studio.put(&format!("chart{n:02}"));
    }
    let order = Arc::new(Mutex::new(Vec::new()));
    let (seen, incoming) = (Arc::clone(&order), studio.path("incoming"));
    let config = studio.settings();
    let worker = move |task: Task| -> Working {
        let (seen, incoming) = (Arc::clone(&seen), incoming.clone());
        Box::pin(async move {
            tokio::time::sleep(Duration::from_secs(2)).await;
            let count = {
                let mut seen = seen.lock().unwrap();
                seen.push(task.name.clone());
                seen.len()
            };
            if count == 3 {
                let first = incoming.join("first");
                fs::create_dir_all(&first).unwrap();
                for ending in ["yaml", "png"] {
                    let name = format!("chart29.{ending}");
                    move_no_replace(&incoming.join(&name), &first.join(&name)).unwrap();
                }
            }
            done(&task)
        })
    };
    let world =
        World { worker: Arc::new(worker), short_of_room: Box::new(|_| None), read_again: Arc::default() };
    let daemon = Daemon::open(config, world, Until::WorkedOff).unwrap();
    let tally = daemon.run(std::future::pending(), &mut |_| {}).await;
    assert_eq!(tally, Tally { finished: 30, refused: 0, left: 0 });
    let at = order.lock().unwrap().iter().position(|name| name.starts_with("chart29")).unwrap();
    assert!((3..8).contains(&at), "it came {at}th: {:?}", order.lock().unwrap());
}

#[tokio::test(start_paused = true)]
async fn settings_whose_copy_was_tidied_away_are_copied_again() {
    let studio = studio("");
    let daemon = studio.daemon(Until::Told, |task, _| {
        assert!(task.settings.exists(), "a worker can read them");
        done(task)
    });
    let stop = async {
        tokio::time::sleep(Duration::from_secs(5)).await;
        fs::remove_dir_all(studio.path(".seamwright")).unwrap();
        tokio::time::sleep(Duration::from_secs(10)).await;
        studio.put("chart");
        tokio::time::sleep(Duration::from_secs(20)).await;
    };
    let tally = daemon.run(stop, &mut |_| {}).await;
    assert_eq!(tally, Tally { finished: 1, refused: 0, left: 0 });
}

#[tokio::test(start_paused = true)]
async fn broken_settings_leave_the_old_ones_in_use_and_whole_ones_replace_them() {
    let studio = studio("limits: {time: 7s}\n");
    let times = Arc::new(Mutex::new(Vec::new()));
    let seen = Arc::clone(&times);
    let daemon = studio.daemon(Until::Told, move |task, _| {
        seen.lock().unwrap().push(task.time.as_secs());
        done(task)
    });
    let file = studio.path(config::FILE);
    let stop = async {
        for (n, text) in ["limits: {time: 8", "quiet: 0s\nlimits: {time: 9s}"].into_iter().enumerate() {
            write_whole(&file, text.as_bytes()).unwrap();
            tokio::time::sleep(Duration::from_secs(20)).await;
            studio.put(&format!("chart{n}"));
            tokio::time::sleep(Duration::from_secs(20)).await;
        }
    };
    let tally = daemon.run(stop, &mut |_| {}).await;
    assert_eq!(tally, Tally { finished: 2, refused: 0, left: 0 });
    assert_eq!(*times.lock().unwrap(), [7, 9]);
    assert!(studio.names(".seamwright").iter().all(|name| !name.starts_with("settings")), "no copy is left");
}
