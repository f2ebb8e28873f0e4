//! Whatever a program does, it costs its job and nothing else: its neighbour in the same batch is finished.

use std::fs;
use std::io::{ErrorKind, Read as _, Write as _};
use std::net::TcpListener;
use std::process::{Command, Stdio};

use super::{ORDER, is_there, runs, with_trick};
use crate::studio::{Studio, name, png};

/// Does `harm` to the one job whose note asks for it, and nothing to others.
fn script(harm: &str) -> String {
    format!("case \"$(cat)\" in *'\"note\":\"harm\"'*)\n{harm}\n;; esac\necho '{{\"protocol\": 1}}'\n")
}

/// Works a harmful job and its neighbour; gives the refusal of the first, if it was refused. Finished or refused, each
/// once, and nothing is left behind.
fn worked(studio: &Studio) -> Option<String> {
    let picture = png(360, 240);
    for (stem, order) in [("bad", ORDER.replace('}', ", note: harm}")), ("good", ORDER.to_owned())] {
        studio.put(&format!("{stem}.png"), &picture);
        studio.put(&format!("{stem}.yaml"), order.as_bytes());
    }
    let output = studio.once();
    let said =
        String::from_utf8_lossy(&output.stderr).into_owned() + &String::from_utf8_lossy(&output.stdout);
    assert!(!said.contains("cannot be ended"), "{said}");
    let (finished, refused) = (studio.finished(), studio.refused());
    assert!(finished.iter().any(|job| name(job).starts_with("good-")), "the neighbour is finished: {said}");
    assert_eq!(finished.len() + refused.len(), 2, "{said}");
    let hidden = fs::read_dir(studio.path("outgoing/.staging")).map_or(0, |entries| entries.count());
    assert_eq!(hidden, 0, "nothing is left in the staging folder");
    for job in finished {
        let files: Vec<String> =
            fs::read_dir(&job).expect("a job").map(|file| name(&file.expect("a file").path())).collect();
        assert!(files.iter().all(|file| !file.starts_with('.')), "{files:?}");
    }
    refused.first().map(|job| {
        assert!(name(job).starts_with("bad-"), "{said}");
        fs::read_to_string(job.join("why.txt")).expect("why.txt")
    })
}

/// The refusal of a job by a program that does this.
fn refused(manifest: &str, harm: &str) -> String {
    worked(&with_trick(manifest, &script(harm), "")).expect("it is refused")
}

/// How programs are held on this machine.
fn containment() -> String {
    let output = with_trick("", &script(""), "").command("check").args(["--program", "trick"]).output();
    String::from_utf8_lossy(&output.expect("the check runs").stdout).into_owned()
}

#[test]
fn a_crash_is_told_with_its_last_words() {
    let why = refused("", "echo 'first word' >&2; echo 'and the last' >&2; kill -SEGV $$");
    assert!(why.contains("`trick` failed twice") && why.contains("signal 11"), "{why}");
    assert!(why.contains("Its last words: and the last."), "{why}");
    assert!(why.contains("seamwright check --program trick"), "{why}");
}

#[test]
fn garbage_and_odd_codes_are_refused() {
    for (harm, expected) in [
        ("echo done; exit 0", "not one JSON object"),
        ("exit 0", "without an answer"),
        ("exit 3", "code 3"),
        ("exit 1", "did not say why"),
        ("printf '{\"protocol\": 1, \"note\": \"mine\"}'; exit 0", "not among what its manifest gives"),
    ] {
        let why = refused("", harm);
        assert!(why.contains(expected), "{harm}: {why}");
    }
}

#[test]
fn it_may_refuse_the_artwork_in_its_own_words() {
    let why = refused(
        "",
        "printf '{\"protocol\": 1, \"refuse\": \"The sky is too dark.\", \"cure\": \"Open the shutter.\"}'; exit 1",
    );
    assert!(why.contains("The sky is too dark.") && why.contains("Open the shutter."), "{why}");
    assert!(!why.contains("failed twice"), "it is asked once: {why}");
}

#[test]
fn what_hangs_is_ended_with_all_it_started() {
    let why = refused("time: 1s", "sleep 27182.81 & setsid sleep 27182.81 & sleep 27182.81");
    assert!(why.contains("longer than 1 s") && why.contains("`time`"), "{why}");
    assert!(!runs("27182.81"), "what it started is ended");
}

#[test]
fn what_forks_away_holds_nobody_up() {
    // The grandchild keeps all pipes open, in a session of its own; the program itself answers as it should.
    let studio = with_trick("", &script("setsid sh -c 'setsid sleep 31415.92 & wait' &"), "");
    let began = std::time::Instant::now();
    assert_eq!(worked(&studio), None, "its answer counts");
    assert!(began.elapsed().as_secs() < 50, "nobody waits for the minute it may take");
    assert!(!runs("31415.92"), "what it left behind is ended");
}

#[test]
fn a_crowd_is_ended() {
    let why = refused("", "i=0; while [ $i -lt 400 ]; do sleep 16180.33 & i=$((i + 1)); done; wait");
    assert!(why.contains("more than 64 processes"), "{why}");
    assert!(!runs("16180.33"), "all of it is ended");
}

#[test]
fn floods_are_cut_off() {
    for harm in ["yes", "yes >&2"] {
        let why = refused("", harm);
        assert!(why.contains("more than anybody reads"), "{harm}: {why}");
        assert!(why.len() < 4096, "{} bytes", why.len());
    }
}

#[test]
fn a_file_without_end_is_cut_off() {
    // A hole beyond all it may write: no disk is filled for this.
    let why = refused("", "dd if=/dev/zero of=big bs=1 count=1 seek=8G || exit 4");
    assert!(why.contains("signal 25") || why.contains("code 4"), "{why}");
}

#[test]
fn a_picture_of_another_size_is_not_taken() {
    // One gray pixel of 8 bits (TIFF 6.0, big-endian), by hand: tag, type, one value; its strip after the directory.
    let entry = |tag: u16, kind: u16, value: u32| {
        let value = if kind == 3 { value << 16 } else { value };
        [&tag.to_be_bytes()[..], &kind.to_be_bytes(), &1_u32.to_be_bytes(), &value.to_be_bytes()].concat()
    };
    let entries = [
        (256, 4, 1),
        (257, 4, 1),
        (258, 3, 8),
        (259, 3, 1),
        (262, 3, 1),
        (273, 4, 110),
        (277, 3, 1),
        (279, 4, 1),
    ];
    let entries: Vec<u8> =
        entries.into_iter().flat_map(|(tag, kind, value)| entry(tag, kind, value)).collect();
    let file = [&b"MM\0\x2a\0\0\0\x08\0\x08"[..], &entries, &[0; 4], b"x"].concat();
    let file: String = file.iter().map(|byte| format!("\\{byte:03o}")).collect();
    let harm =
        format!("printf '{file}' >out.tif; printf '{{\"protocol\": 1, \"picture\": \"out.tif\"}}'; exit 0");
    let good = "printf '{\"protocol\": 1, \"picture\": \"picture.tif\"}'; exit 0";
    let script = format!("case \"$(cat)\" in *'\"note\":\"harm\"'*) {harm} ;; esac\n{good}\n");
    let why = worked(&with_trick("needs: [picture]\ngives: [picture]", &script, "")).expect("it is refused");
    assert!(why.contains("out.tif is 1 x 1 pixels, and the picture it was given 710 x 470"), "{why}");
}

#[test]
fn nothing_is_written_outside_its_folder() {
    if !containment().contains("Landlock and") {
        println!("SKIPPED: this kernel has no Landlock");
        return;
    }
    let studio = with_trick("", "", "");
    let (out, within) = (studio.path("stolen"), studio.path("incoming"));
    let harm = format!(
        "echo x >'{0}' || echo no >mine\nrm -f '{1}/../seamwright.yaml' || :\nln -s '{0}' link; echo x >link || :\ncat '{1}/../seamwright.yaml' && exit 5\ntest -s mine || exit 6",
        out.display(),
        within.display()
    );
    studio.put("../programs/trick.sh", script(&harm).as_bytes());
    assert_eq!(worked(&studio), None, "all of it fails, and it goes on");
    assert!(!out.exists() && studio.path("seamwright.yaml").exists());
}

#[test]
fn no_socket_is_opened() {
    if !is_there("python3") {
        return;
    }
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    listener.set_nonblocking(true).expect("not waiting");
    let port = listener.local_addr().expect("its address").port();
    let why = refused(
        "",
        &format!("exec python3 -c 'import socket; socket.create_connection((\"127.0.0.1\", {port}), 2)'"),
    );
    assert!(why.contains("PermissionError") || why.contains("not permitted"), "{why}");
    let refused = listener.accept().expect_err("nobody came");
    assert_eq!(refused.kind(), ErrorKind::WouldBlock);
}

#[test]
fn memory_is_limited_for_one_and_for_all_it_starts() {
    if !is_there("python3") {
        return;
    }
    let why = refused("memory: 64MiB", "exec python3 -c 'x = bytearray(1 << 30)'");
    assert!(why.contains("MemoryError") || why.contains("more than 64 MiB"), "{why}");
    // Each by itself is within the limit; together they are not.
    let each = "python3 -c 'import time; x = bytearray(b\"1\") * (60 << 20); time.sleep(50)' &";
    let why = refused("memory: 160MiB", &format!("{each}\n{each}\n{each}\n{each}\nwait"));
    assert!(why.contains("more than 160 MiB of memory") && why.contains("`memory`"), "{why}");
}

#[test]
fn it_ends_with_its_job() {
    // The job is given up by the daemon, which ends the worker's process group; the program is in none of it.
    let studio = with_trick("", &script("setsid sleep 14142.13 & sleep 14142.13"), "limits: {time: 3s}");
    studio.put("bad.png", &png(360, 240));
    studio.put("bad.yaml", ORDER.replace('}', ", note: harm}").as_bytes());
    studio.once();
    let why = fs::read_to_string(studio.refused()[0].join("why.txt")).expect("why.txt");
    assert!(why.contains("longer than 3 s"), "{why}");
    let until = std::time::Instant::now() + std::time::Duration::from_secs(10);
    while runs("14142.13") && std::time::Instant::now() < until {
        std::thread::yield_now();
    }
    assert!(!runs("14142.13"), "its program is ended with it");
}

#[test]
fn nothing_is_begun_before_its_word_or_without_it() {
    // As a worker tells its supervisor: the task on one line, and once all is there what the program is told on another.
    let studio = Studio::new("");
    let scratch = studio.path("scratch");
    fs::create_dir(&scratch).expect("a folder");
    let task = serde_json::json!({
        "bounds": {
            "command": ["/bin/sh", "-c", "cat >told"], "scratch": scratch, "reads": [], "memory": 1 << 30,
            "disk": 1 << 20, "network": false,
        },
        "time": {"secs": 10, "nanos": 0},
    });
    for (word, said) in [("", ""), ("half a word", ""), ("{}\n", "{}")] {
        let mut supervisor = Command::new(env!("CARGO_BIN_EXE_seamwright"))
            .arg("supervise-program")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let mut asks = supervisor.stdin.take().expect("its ear");
        asks.write_all(format!("{task}\n{word}").as_bytes()).expect("it listens");
        let mut report = String::new();
        if said.is_empty() {
            // The worker is gone.
            drop(asks);
        } else {
            supervisor.stdout.take().expect("its mouth").read_to_string(&mut report).expect("its report");
        }
        assert!(supervisor.wait().expect("it ends").success(), "{word:?}");
        assert_eq!(report.contains("\"end\":{\"Code\":0}"), !said.is_empty(), "{word:?}: {report}");
        assert_eq!(fs::read_to_string(scratch.join("told")).unwrap_or_default(), said, "{word:?}");
        assert_eq!(scratch.join("told").exists(), !said.is_empty(), "{word:?}");
    }
}

#[test]
fn it_finds_a_clean_table() {
    // Nothing of our surroundings, no terminal, its own folder, and no open file of ours.
    let harm = "env | cut -d= -f1 | sort | tr '\\n' ' ' >&2; ls -l /proc/self/fd >&2; pwd >&2; exit 9";
    let studio = with_trick("", &script(harm), "");
    studio.put("bad.png", &png(360, 240));
    studio.put("bad.yaml", ORDER.replace('}', ", note: harm}").as_bytes());
    let output = studio.command("once").env("SECRET", "of the studio").output().expect("the program runs");
    let log = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(log.contains("HOME LANG PATH PWD TMPDIR"), "{log}");
    assert!(!log.contains("SECRET"), "{log}");
    let files: Vec<&str> =
        log.lines().filter(|line| line.contains(" -> ") && !line.contains("pipe:")).collect();
    assert!(files.iter().all(|line| line.contains("/proc/") || line.contains("/dev/null")), "{files:?}");
}
