//! Hand-off to a printer of the tests' own, which forgets, refuses and hangs up on demand. A real one is among the judges.

use std::fs;
use std::path::Path;
use std::sync::{Arc, Mutex};

use ::ipp::attribute::IppAttribute;
use ::ipp::model::{DelimiterTag, IppVersion, StatusCode};
use ::ipp::request::IppRequestResponse;
use ::ipp::value::IppValue;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpListener;

use super::slip::SHEETS;
use super::*;
use crate::config;
use crate::journal::files::write_whole;

const ABLE: u16 = 0x0b;
const OPEN: u16 = 0x05;
const FILL: u16 = 0x06;
const JOB: u16 = 0x09;
const JOBS: u16 = 0x0a;

/// What a printer does with a request.
enum Does {
    /// Answers so.
    Says(StatusCode, Vec<(DelimiterTag, &'static str, IppValue)>),
    /// Hangs up.
    HangsUp,
}

type Heard = Arc<Mutex<Vec<(u16, Vec<u8>)>>>;

fn keyword(word: &str) -> IppValue {
    IppValue::new_keyword(word).unwrap()
}

fn able() -> Does {
    let group = DelimiterTag::PrinterAttributes;
    let operations = [2, 5, 6, 9, 10, 11].map(IppValue::Enum).to_vec();
    Does::Says(
        StatusCode::SuccessfulOk,
        vec![
            (group, "operations-supported", IppValue::Array(operations)),
            (group, "document-format-supported", IppValue::new_mime_media_type("application/pdf").unwrap()),
            (group, "print-scaling-supported", IppValue::Array(vec![keyword("auto"), keyword("none")])),
            (group, "media-supported", keyword("na_letter_8.5x11in")),
        ],
    )
}

/// Of a job that has so many documents, and has printed so many pages.
fn job_with(state: i32, documents: i32, pages: i32) -> Does {
    let Does::Says(status, mut values) = job(state, documents) else { return Does::HangsUp };
    values.push((DelimiterTag::JobAttributes, "job-impressions-completed", IppValue::Integer(pages)));
    Does::Says(status, values)
}

fn job(state: i32, documents: i32) -> Does {
    let group = DelimiterTag::JobAttributes;
    Does::Says(
        StatusCode::SuccessfulOk,
        vec![
            (group, "job-id", IppValue::Integer(7)),
            (group, "job-state", IppValue::Enum(state)),
            (group, "number-of-documents", IppValue::Integer(documents)),
        ],
    )
}

/// A printer that does to each request what is said; gives its address and what it has heard.
async fn printer(does: impl Fn(u16, usize) -> Does + Send + 'static) -> (String, Heard) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let uri = format!("ipp://{}/ipp/print", listener.local_addr().unwrap());
    let heard: Heard = Arc::default();
    let hears = Arc::clone(&heard);
    tokio::spawn(async move {
        loop {
            let (mut stream, _) = listener.accept().await.unwrap();
            let mut text = Vec::new();
            let (head, length) = loop {
                let mut piece = [0; 4096];
                let read = stream.read(&mut piece).await.unwrap();
                text.extend_from_slice(&piece[..read]);
                if let Some(end) = text.windows(4).position(|four| four == b"\r\n\r\n") {
                    let head = String::from_utf8_lossy(&text[..end]).to_lowercase();
                    let length = head.split("content-length: ").nth(1).unwrap();
                    break (end + 4, length.lines().next().unwrap().trim().parse::<usize>().unwrap());
                }
            };
            while text.len() < head + length {
                let mut piece = [0; 4096];
                let read = stream.read(&mut piece).await.unwrap();
                text.extend_from_slice(&piece[..read]);
            }
            let body = text[head..].to_vec();
            let operation = u16::from_be_bytes([body[2], body[3]]);
            let times = hears.lock().unwrap().iter().filter(|(heard, _)| *heard == operation).count();
            hears.lock().unwrap().push((operation, body));
            if let Does::Says(status, values) = does(operation, times) {
                let mut answer = IppRequestResponse::new_response(IppVersion::v1_1(), status, 1).unwrap();
                for (group, name, value) in values {
                    answer.attributes_mut().add(group, IppAttribute::with_name(name, value).unwrap());
                }
                let bytes = answer.to_bytes();
                let head = format!("HTTP/1.1 200 OK\r\nContent-Length: {}\r\n\r\n", bytes.len());
                stream.write_all(&[head.as_bytes(), &bytes].concat()).await.unwrap();
            }
        }
    });
    (uri, heard)
}

/// A studio with one job to be printed at this address.
fn studio(uri: &str) -> (TempDir, Config) {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    for name in ["printers", "kept/chart-123456", "outgoing/chart-123456"] {
        fs::create_dir_all(root.join(name)).unwrap();
    }
    put(&root.join(config::FILE), "");
    put(
        &root.join("printers/desk-letter.yaml"),
        &format!("papers: [letter]\nmargins: 5mm\nsend_to: {{uri: \"{uri}\"}}\n"),
    );
    put(&root.join("outgoing/chart-123456").join(SHEETS), "%PDF sheets");
    let record = r#"{"print": "yes", "printer": "desk-letter", "copies": 2, "panels": [1, 2, 3],
        "paper": {"name": "letter", "width_um": 279400, "height_um": 215900}}"#;
    put(&root.join("kept/chart-123456/record.json"), record);
    let config = config::load(Some(&root.join(config::FILE))).unwrap();
    let slips = Slips::of(&config.studio);
    slips
        .anew("chart-123456", record.as_bytes(), &root.join("outgoing/chart-123456").join(SHEETS), 1)
        .unwrap();
    (folder, config)
}

fn put(path: &Path, text: &str) {
    write_whole(path, text.as_bytes()).unwrap();
}

/// Turns until nothing is under way, as if some time had gone by before.
async fn turn(spool: &mut Spool, config: &Config) {
    spool.ring();
    spool.pauses = Pauses::new();
    spool.next.clear();
    spool.turn(config);
    spool.wind_up().await;
}

fn slip(config: &Config) -> Option<Slip> {
    Slips::of(&config.studio).all().pop()
}

fn log(config: &Config) -> String {
    fs::read_to_string(config.studio.kept.join(".history.jsonl")).unwrap_or_default()
}

fn times(heard: &Heard, operation: u16) -> usize {
    heard.lock().unwrap().iter().filter(|(heard, _)| *heard == operation).count()
}

fn ok() -> Does {
    Does::Says(StatusCode::SuccessfulOk, Vec::new())
}

#[tokio::test]
async fn sheets_go_to_a_job_that_was_opened_for_them() {
    let (uri, heard) = printer(|operation, _| match operation {
        ABLE => able(),
        OPEN => job(4, 0),
        _ => ok(),
    })
    .await;
    let (_folder, config) = studio(&uri);
    let mut spool = Spool::new(&config.studio);
    turn(&mut spool, &config).await;
    assert_eq!(slip(&config), None, "done with");
    assert!(log(&config).contains(r#""end":"sent""#) && log(&config).contains("job 7"), "{}", log(&config));
    assert!(
        fs::read_to_string(config.studio.kept.join("chart-123456/results.jsonl")).is_ok(),
        "kept beside its sources"
    );
    let heard = heard.lock().unwrap();
    let operations: Vec<u16> = heard.iter().map(|(operation, _)| *operation).collect();
    assert_eq!(operations, [ABLE, OPEN, FILL]);
    let text = String::from_utf8_lossy(&heard[1].1).into_owned();
    for asked in [
        "chart-123456 ",
        "print-scaling",
        "none",
        "one-sided",
        "na_letter_8.5x11in",
        "ipp-attribute-fidelity",
    ] {
        assert!(text.contains(asked), "{asked}");
    }
    assert!(heard[2].1.ends_with(b"%PDF sheets"), "the sheets follow");
}

#[tokio::test]
async fn what_was_cut_off_is_asked_after_before_anything_is_sent_again() {
    // What the printer says of the job afterwards, how often sheets are sent in all, and how it ends.
    type Says = fn() -> Does;
    let forgot: Says = || Does::Says(StatusCode::ClientErrorNotFound, Vec::new());
    let cases: [(Says, usize, &str); 8] = [
        (|| job_with(5, 1, 3), 1, "sent"),
        (|| job_with(9, 1, 3), 1, "printed"),
        // A part that it took for all of it, and one that does not say.
        (|| job_with(9, 1, 2), 1, "unprinted"),
        (|| job(9, 1), 1, "unprinted"),
        (|| job(4, 0), 2, "sent"),
        (|| job(8, 0), 2, "sent"),
        (|| job(8, 1), 1, "unprinted"),
        (forgot, 1, "unprinted"),
    ];
    for (says, sent, end) in cases {
        let (uri, heard) = printer(move |operation, times| match operation {
            ABLE => able(),
            OPEN => job(4, 0),
            FILL if times == 0 => Does::HangsUp,
            JOB => says(),
            _ => ok(),
        })
        .await;
        let (_folder, config) = studio(&uri);
        turn(&mut Spool::new(&config.studio), &config).await;
        let begun = slip(&config).unwrap();
        assert_eq!(begun.state, State::Begun { to: uri, id: Some(7), sent: true }, "{}", begun.why);
        // As after a kill: another spool, which knows what is on the disk.
        let mut spool = Spool::new(&config.studio);
        turn(&mut spool, &config).await;
        turn(&mut spool, &config).await;
        assert_eq!(times(&heard, FILL), sent, "{end}");
        assert!(log(&config).contains(&format!(r#""end":"{end}""#)), "{}", log(&config));
        let stopped = slip(&config).is_some_and(|slip| matches!(slip.state, State::Stopped { .. }));
        assert_eq!(stopped, end == "unprinted");
    }
}

#[tokio::test]
async fn a_job_that_was_opened_in_vain_is_found_by_its_name() {
    let found = Arc::new(Mutex::new(String::new()));
    let name = Arc::clone(&found);
    let (uri, heard) = printer(move |operation, times| match operation {
        ABLE => able(),
        OPEN if times == 0 => Does::HangsUp,
        JOBS => {
            let group = DelimiterTag::JobAttributes;
            let Does::Says(status, mut values) = job(4, 0) else { return Does::HangsUp };
            values.push((
                group,
                "job-name",
                IppValue::new_name_without_language(&**name.lock().unwrap()).unwrap(),
            ));
            Does::Says(status, values)
        }
        _ => ok(),
    })
    .await;
    let (_folder, config) = studio(&uri);
    *found.lock().unwrap() = slip(&config).unwrap().name();
    let mut spool = Spool::new(&config.studio);
    turn(&mut spool, &config).await;
    assert_eq!(slip(&config).unwrap().state, State::Begun { to: uri, id: None, sent: false });
    turn(&mut spool, &config).await;
    assert_eq!((times(&heard, OPEN), times(&heard, FILL), slip(&config)), (1, 1, None));
}

#[tokio::test]
async fn trouble_is_told_and_the_makers_word_obeyed() {
    let (uri, heard) = printer(|operation, times| match operation {
        ABLE => able(),
        OPEN => match times {
            0..8 => Does::Says(StatusCode::ServerErrorBusy, Vec::new()),
            8 => Does::Says(StatusCode::ClientErrorAttributesOrValuesNotSupported, Vec::new()),
            _ => job(4, 0),
        },
        JOBS => ok(),
        _ => ok(),
    })
    .await;
    let (_folder, config) = studio(&uri);
    let mut spool = Spool::new(&config.studio);
    for tries in 1..=8 {
        assert!(!log(&config).contains("unprinted"), "the maker is not troubled at once");
        turn(&mut spool, &config).await;
        assert_eq!(slip(&config).unwrap().tries, tries);
    }
    assert!(log(&config).contains("it is busy"), "{}", log(&config));
    assert!(needs_you(&slip(&config).unwrap()).unwrap().0.contains("it is busy"), "told, and tried on");
    turn(&mut spool, &config).await;
    let stopped = slip(&config).unwrap();
    assert!(matches!(stopped.state, State::Stopped { .. }), "{stopped:?}");
    assert!(needs_you(&stopped).unwrap().1.ends_with("seamwright print chart-123456"), "the cure");
    assert_eq!(spool.left(3), Some(1), "a batch ends with it");
    turn(&mut spool, &config).await;
    assert_eq!(times(&heard, OPEN), 9, "not tried again by itself");
    Slips::of(&config.studio).wish("chart-123456", false).unwrap();
    turn(&mut spool, &config).await;
    assert_eq!((times(&heard, OPEN), slip(&config), spool.left(3)), (10, None, Some(0)));
}

#[tokio::test]
async fn a_slip_counts_from_the_publication_and_is_never_made_twice() {
    let (_folder, config) = studio("ipp://127.0.0.1:9/");
    let slips = Slips::of(&config.studio);
    let folder = config.studio.root.join(".seamwright/printing");
    fs::create_dir_all(folder.join("gulls-1.next")).unwrap();
    fs::create_dir_all(folder.join("tide-1.next")).unwrap();
    fs::create_dir_all(folder.join("lamp-1.next")).unwrap();
    fs::create_dir_all(folder.join("moon-1.part")).unwrap();
    fs::create_dir_all(config.studio.kept.join("gulls-1")).unwrap();
    fs::create_dir_all(config.studio.kept.join("lamp-1")).unwrap();
    assert_eq!(slips.there().unwrap(), ["chart-123456"]);
    slips.recover(&config.studio.kept, &["lamp-1"]).unwrap();
    assert_eq!(slips.there().unwrap(), ["chart-123456", "gulls-1"], "published, and no other");
    assert!(
        folder.join("tide-1.next").exists() && folder.join("lamp-1.next").exists(),
        "yet to be published"
    );
    assert!(!folder.join("moon-1.part").exists(), "half a slip");
    slips.release("lamp-1").unwrap();
    slips.release("lamp-1").unwrap();
    assert_eq!(slips.there().unwrap(), ["chart-123456", "gulls-1", "lamp-1"]);
}
