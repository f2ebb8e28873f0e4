//! What is said to a printer in IPP (RFC 8011; PWG 5100.13 for print-scaling), and what its answers mean.
//!
//! Requests are put together by hand, so that every attribute stands in the group where it belongs; the `ipp` crate makes
//! bytes of them and reads the answers. Version 1.1 is understood by all.

use std::path::Path;

use ::ipp::attribute::{IppAttribute, IppAttributeGroup};
use ::ipp::model::{DelimiterTag, IppVersion, Operation};
use ::ipp::parser::IppParser;
use ::ipp::reader::IppReader;
use ::ipp::request::IppRequestResponse;
use ::ipp::value::IppValue;
use seamwright_contract::sending::{Quality, SendTo};

use super::media;
use super::slip::Slip;
use super::wire;

/// What jobs are sent as, and who sends them.
pub(super) const PDF: &str = "application/pdf";
const WHO: &str = "seamwright";

/// Why there is no answer that can be gone by.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Trouble {
    /// It may be another time: nobody answers, or the printer is busy.
    Later(String),
    /// It will be so the next time too.
    Never(String),
    /// The printer knows no such job.
    NoSuchJob,
}

type Answer<T> = Result<T, Trouble>;

/// A printer that can be talked to.
#[derive(Debug)]
pub(super) struct Printer<'u> {
    uri: &'u str,
}

/// What a printer says of itself.
#[derive(Debug, Default)]
pub(super) struct Able {
    pub(super) opens_jobs: bool,
    pub(super) formats: Vec<String>,
    pub(super) scalings: Vec<String>,
    pub(super) media: Vec<String>,
    pub(super) qualities: Vec<i32>,
    pub(super) colours: Vec<String>,
    pub(super) accepting: bool,
    /// Its own words on how it is.
    pub(super) state: String,
}

/// What a printer says of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Job {
    pub(super) id: i32,
    name: String,
    state: i32,
    reasons: Vec<String>,
    /// How many documents it has, if the printer counts them.
    documents: Option<i32>,
    /// Their size in units of 1024 bytes, and how many of their pages are printed, if it says so.
    size: Option<i32>,
    pages: Option<i32>,
}

/// How a job stands, as far as it matters for whether its sheets are sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Standing {
    /// It has no sheets, and waits for them.
    Empty,
    /// Its sheets are just coming in.
    Incoming,
    /// It has its sheets; not yet printed.
    Queued,
    /// All is printed.
    Printed,
    /// It ended before its end.
    GivenUp,
}

impl Job {
    pub(super) fn standing(&self) -> Standing {
        let because = |reason| self.reasons.iter().any(|said| said == reason);
        match self.state {
            3..=6 if because("job-incoming") => Standing::Incoming,
            3..=6 if because("job-data-insufficient") || self.documents == Some(0) => Standing::Empty,
            3..=6 => Standing::Queued,
            9 => Standing::Printed,
            _ => Standing::GivenUp,
        }
    }

    /// Whether it ended without ever having sheets.
    pub(super) fn never_had_any(&self) -> bool {
        self.standing() == Standing::GivenUp && self.documents == Some(0)
    }

    /// Whether it has all of so many bytes and pages; nothing where the printer does not say. A connection that breaks
    /// half-way looks to some like the end of what was sent.
    pub(super) fn has_all(&self, bytes: u64, pages: usize) -> Option<bool> {
        let printed = self.pages.and_then(|pages| usize::try_from(pages).ok());
        if printed.is_some_and(|printed| printed >= pages) {
            return Some(true);
        }
        let size = self.size.and_then(|size| u64::try_from(size).ok()).filter(|size| *size > 0)?;
        Some(size >= bytes.div_ceil(1024))
    }

    /// How it is, in the printer's words.
    pub(super) fn told(&self) -> String {
        let state = match self.state {
            3 => "waits",
            4 => "is held at the printer",
            5 => "is being printed",
            6 => "has stopped",
            7 => "was cancelled",
            8 => "was given up",
            9 => "is printed",
            _ => "is in an unknown state",
        };
        let reasons: Vec<&str> =
            self.reasons.iter().map(String::as_str).filter(|why| *why != "none").collect();
        if reasons.is_empty() { state.to_owned() } else { format!("{state} ({})", reasons.join(", ")) }
    }
}

impl<'u> Printer<'u> {
    pub(super) const fn at(uri: &'u str) -> Self {
        Self { uri }
    }

    /// What it can do, and how it is.
    pub(super) async fn able(&self) -> Answer<Able> {
        let wanted = [
            "operations-supported",
            "document-format-supported",
            "print-scaling-supported",
            "media-supported",
            "print-quality-supported",
            "print-color-mode-supported",
            "printer-is-accepting-jobs",
            "printer-state-reasons",
            "printer-state-message",
        ];
        let group = &self.says(&wanted).await?;
        let operations = numbers(group, "operations-supported");
        let does = |operation: Operation| operations.contains(&(operation as i32));
        let mut state = words(group, "printer-state-reasons");
        state.retain(|reason| reason != "none");
        state.extend(words(group, "printer-state-message").into_iter().filter(|said| !said.is_empty()));
        Ok(Able {
            opens_jobs: does(Operation::CreateJob) && does(Operation::SendDocument),
            formats: words(group, "document-format-supported"),
            scalings: words(group, "print-scaling-supported"),
            media: words(group, "media-supported"),
            qualities: numbers(group, "print-quality-supported"),
            colours: words(group, "print-color-mode-supported"),
            accepting: !matches!(value(group, "printer-is-accepting-jobs"), Some(IppValue::Boolean(false))),
            state: state.join(", "),
        })
    }

    /// What it says of itself, of what is asked for.
    pub(super) async fn says(&self, wanted: &[&str]) -> Answer<IppAttributeGroup> {
        let mut request = self.request(Operation::GetPrinterAttributes, None)?;
        of_operation(&mut request, "requested-attributes", keywords(wanted)?)?;
        let answer = self.ask(request, None).await?;
        let group = answer.attributes().first_of(DelimiterTag::PrinterAttributes).cloned();
        group.ok_or_else(|| Trouble::Later("it says nothing of itself".to_owned()))
    }

    /// Opens a job without sheets; its number.
    pub(super) async fn open(&self, slip: &Slip, asked: &Ticket) -> Answer<i32> {
        let mut request = self.request(Operation::CreateJob, None)?;
        asked.write(&mut request, slip)?;
        job_id(&self.ask(request, None).await?)
    }

    /// Gives an open job its sheets, which are all it gets.
    pub(super) async fn fill(&self, id: i32, sheets: &Path) -> Answer<()> {
        let mut request = self.request(Operation::SendDocument, Some(id))?;
        of_operation(&mut request, "document-format", ipp(IppValue::new_mime_media_type(PDF))?)?;
        of_operation(&mut request, "last-document", IppValue::Boolean(true))?;
        self.ask(request, Some(sheets)).await.map(drop)
    }

    /// Job and sheets in one, for printers that know no other way; its number.
    pub(super) async fn print(&self, slip: &Slip, asked: &Ticket, sheets: &Path) -> Answer<i32> {
        let mut request = self.request(Operation::PrintJob, None)?;
        of_operation(&mut request, "document-format", ipp(IppValue::new_mime_media_type(PDF))?)?;
        asked.write(&mut request, slip)?;
        job_id(&self.ask(request, Some(sheets)).await?)
    }

    /// The job of this number.
    pub(super) async fn job(&self, id: i32) -> Answer<Job> {
        let mut request = self.request(Operation::GetJobAttributes, Some(id))?;
        of_operation(&mut request, "requested-attributes", keywords(&Job::WANTED)?)?;
        let answer = self.ask(request, None).await?;
        let group = answer.attributes().first_of(DelimiterTag::JobAttributes);
        group.and_then(Job::read).ok_or(Trouble::NoSuchJob)
    }

    /// The latest job of this name, among those that are not done yet, or among those that are.
    pub(super) async fn job_called(&self, name: &str, done: bool) -> Answer<Option<Job>> {
        let mut request = self.request(Operation::GetJobs, None)?;
        let which = if done { "completed" } else { "not-completed" };
        of_operation(&mut request, "which-jobs", ipp(IppValue::new_keyword(which))?)?;
        of_operation(&mut request, "requested-attributes", keywords(&Job::WANTED)?)?;
        let answer = self.ask(request, None).await?;
        let jobs = answer.attributes().groups_of(DelimiterTag::JobAttributes).filter_map(Job::read);
        Ok(jobs.filter(|job| job.name == name).max_by_key(|job| job.id))
    }

    /// Takes a job back; whether that works is no matter.
    pub(super) async fn cancel(&self, id: i32) {
        if let Ok(request) = self.request(Operation::CancelJob, Some(id))
            && let Err(why) = self.ask(request, None).await
        {
            tracing::debug!(?why, id, "an empty job stays at the printer");
        }
    }

    fn request(&self, operation: Operation, job: Option<i32>) -> Answer<IppRequestResponse> {
        let mut request = ipp(IppRequestResponse::new(IppVersion::v1_1(), operation, None))?;
        of_operation(&mut request, "printer-uri", ipp(IppValue::new_uri(self.uri))?)?;
        if let Some(id) = job {
            of_operation(&mut request, "job-id", IppValue::Integer(id))?;
        }
        of_operation(&mut request, "requesting-user-name", ipp(IppValue::new_name_without_language(WHO))?)?;
        Ok(request)
    }

    async fn ask(&self, request: IppRequestResponse, file: Option<&Path>) -> Answer<IppRequestResponse> {
        let head = request.to_bytes();
        drop(request);
        let bytes = wire::post(self.uri, head, file).await.map_err(Trouble::Later)?;
        if !is_shallow(&bytes) {
            return Err(Trouble::Later("its answer cannot be read".to_owned()));
        }
        let parser = IppParser::new(IppReader::new(std::io::Cursor::new(bytes)));
        let answer =
            parser.parse().map_err(|why| Trouble::Later(format!("its answer cannot be read: {why}")))?;
        match u16::from_be_bytes(answer.header().operation_or_status.to_be_bytes()) {
            0..=0xff => Ok(answer),
            status => Err(trouble(status, &answer)),
        }
    }
}

/// Whether an answer holds no values in values in values without end, which would be built and taken down by recursion.
/// What is no answer at all the parser finds out.
fn is_shallow(bytes: &[u8]) -> bool {
    const BEGIN: u8 = 0x34;
    const END: u8 = 0x37;
    const DEEPEST: usize = 16;
    let mut depth = 0_usize;
    let mut rest = bytes.get(8..).unwrap_or_default();
    let long = |rest: &mut &[u8]| {
        let (length, after) = rest.split_first_chunk::<2>()?;
        let skipped = after.get(usize::from(u16::from_be_bytes(*length))..)?;
        *rest = skipped;
        Some(())
    };
    while let Some((tag, after)) = rest.split_first() {
        rest = after;
        if *tag < 0x10 {
            continue;
        }
        depth = match *tag {
            BEGIN => depth + 1,
            END => depth.saturating_sub(1),
            _ => depth,
        };
        // A name, then a value.
        if depth > DEEPEST || long(&mut rest).and_then(|()| long(&mut rest)).is_none() {
            return depth <= DEEPEST;
        }
    }
    true
}

/// What a status other than success means (RFC 8011, appendix B).
fn trouble(status: u16, answer: &IppRequestResponse) -> Trouble {
    let operation = answer.attributes().first_of(DelimiterTag::OperationAttributes);
    let said = operation.map(|group| words(group, "status-message")).unwrap_or_default().join(" ");
    let unsupported = answer.attributes().groups_of(DelimiterTag::UnsupportedAttributes);
    let lacks: Vec<String> = unsupported
        .flat_map(|group| group.attributes())
        .map(|attribute| format!("{} {}", attribute.name(), attribute.value()))
        .collect();
    let mut why = match status {
        0x0406 | 0x0407 => return Trouble::NoSuchJob,
        0x0507 => "it is busy".to_owned(),
        0x0506 => "it takes no jobs now".to_owned(),
        0x040b | 0x040e => "it cannot print so".to_owned(),
        0x040a | 0x0411 => "it cannot print PDF".to_owned(),
        0x0401..=0x0403 => "it lets us not in".to_owned(),
        status => format!("it answered with the status {status:#06x}"),
    };
    if !lacks.is_empty() {
        why.push_str(&format!(", for it has no {}", lacks.join(", ")));
    }
    if !said.is_empty() {
        why.push_str(&format!(" (\"{said}\")"));
    }
    match status {
        // Not possible now, timed out, and all that is the printer's own trouble but that it never can.
        0x0404 | 0x0405 | 0x0500 | 0x0502 | 0x0504..=0x0508 | 0x050a.. => Trouble::Later(why),
        _ => Trouble::Never(why),
    }
}

impl Job {
    const WANTED: [&'static str; 7] = [
        "job-id",
        "job-name",
        "job-state",
        "job-state-reasons",
        "number-of-documents",
        "job-k-octets",
        "job-impressions-completed",
    ];

    fn read(group: &IppAttributeGroup) -> Option<Self> {
        let number = |name| numbers(group, name).first().copied();
        Some(Self {
            id: number("job-id")?,
            name: words(group, "job-name").join(""),
            state: number("job-state")?,
            reasons: words(group, "job-state-reasons"),
            documents: number("number-of-documents"),
            size: number("job-k-octets"),
            pages: number("job-impressions-completed"),
        })
    }
}

/// What a printer is asked for with a job.
#[derive(Debug)]
pub(super) struct Ticket {
    media: String,
    quality: Option<Quality>,
    kind: Option<String>,
    tray: Option<String>,
    colour: bool,
    hold: bool,
}

impl Ticket {
    /// For a job at a printer that can do so much; else in words what stands against it, and the cure.
    pub(super) fn new(slip: &Slip, send_to: &SendTo, able: &Able) -> Result<Self, (String, String)> {
        if !able.formats.is_empty() && !able.formats.iter().any(|format| format == PDF) {
            return Err((
                format!("the printer takes no PDF, only {}", able.formats.join(", ")),
                "Send to a queue of this machine that turns PDF into what it takes, or by a command."
                    .to_owned(),
            ));
        }
        if !able.scalings.iter().any(|scaling| scaling == "none") && !send_to.trusted {
            return Err((
                "the printer does not promise to print at true size (it has no print-scaling none)".to_owned(),
                "Measure the ruler on a sheet printed this way, and if it is right write `true_size: measured` under send_to.".to_owned(),
            ));
        }
        let own = send_to.media.get(&slip.paper).cloned();
        let Some(media) = own.or_else(|| media::word(&able.media, slip.width_um, slip.height_um)) else {
            return Err((
                format!("the printer does not list the paper {}", slip.paper),
                format!(
                    "Write the printer's own word for it: `media: {{{}: …}}` under send_to; it has {}.",
                    slip.paper,
                    able.media.join(", ")
                ),
            ));
        };
        let best = able.qualities.contains(&(Quality::High as i32)).then_some(Quality::High);
        Ok(Self {
            media,
            quality: send_to.quality.or(best),
            kind: send_to.kind.clone(),
            tray: send_to.tray.clone(),
            colour: able.colours.iter().any(|colour| colour == "color"),
            hold: send_to.hold,
        })
    }

    fn write(&self, request: &mut IppRequestResponse, slip: &Slip) -> Answer<()> {
        of_operation(request, "job-name", ipp(IppValue::new_name_without_language(slip.name()))?)?;
        // Better refused than otherwise.
        of_operation(request, "ipp-attribute-fidelity", IppValue::Boolean(true))?;
        let mut asked = |name: &str, value: IppValue| of_job(request, name, value);
        asked("copies", IppValue::Integer(i32::try_from(slip.copies).unwrap_or(i32::MAX)))?;
        asked("sides", ipp(IppValue::new_keyword("one-sided"))?)?;
        asked("print-scaling", ipp(IppValue::new_keyword("none"))?)?;
        if let Some(quality) = self.quality {
            asked("print-quality", IppValue::Enum(quality as i32))?;
        }
        if self.colour {
            asked("print-color-mode", ipp(IppValue::new_keyword("color"))?)?;
        }
        if self.hold {
            asked("job-hold-until", ipp(IppValue::new_keyword("indefinite"))?)?;
        }
        // RFC 8011 allows one of the two.
        if self.kind.is_none() && self.tray.is_none() {
            asked("media", ipp(IppValue::new_keyword(&*self.media))?)
        } else {
            asked("media-col", self.media_col(slip)?)
        }
    }

    /// Paper, kind and tray together (PWG 5100.7).
    fn media_col(&self, slip: &Slip) -> Answer<IppValue> {
        let (width, height) = media::size_of(&self.media).unwrap_or((slip.width_um, slip.height_um));
        let side = |um| IppValue::Integer(i32::try_from(media::hundredths(um)).unwrap_or(i32::MAX));
        let size = collection([("x-dimension", side(width)), ("y-dimension", side(height))])?;
        let mut members = vec![("media-size", size)];
        for (name, word) in [("media-type", &self.kind), ("media-source", &self.tray)] {
            if let Some(word) = word {
                members.push((name, ipp(IppValue::new_keyword(&**word))?));
            }
        }
        collection(members)
    }
}

fn collection<'n>(members: impl IntoIterator<Item = (&'n str, IppValue)>) -> Answer<IppValue> {
    let named = members.into_iter().map(|(name, value)| Ok((ipp(name.try_into())?, value)));
    named.collect::<Answer<_>>().map(IppValue::Collection)
}

/// A word too long for the protocol will be so the next time too.
fn ipp<T>(made: Result<T, ::ipp::parser::IppParseError>) -> Answer<T> {
    made.map_err(|why| Trouble::Never(format!("it cannot be said in IPP: {why}")))
}

fn of_operation(request: &mut IppRequestResponse, name: &str, value: IppValue) -> Answer<()> {
    let attribute = ipp(IppAttribute::with_name(name, value))?;
    request.attributes_mut().add(DelimiterTag::OperationAttributes, attribute);
    Ok(())
}

fn of_job(request: &mut IppRequestResponse, name: &str, value: IppValue) -> Answer<()> {
    let attribute = ipp(IppAttribute::with_name(name, value))?;
    request.attributes_mut().add(DelimiterTag::JobAttributes, attribute);
    Ok(())
}

fn keywords(words: &[&str]) -> Answer<IppValue> {
    let words: Answer<Vec<IppValue>> = words.iter().map(|word| ipp(IppValue::new_keyword(*word))).collect();
    words.map(IppValue::Array)
}

fn value<'g>(group: &'g IppAttributeGroup, name: &str) -> Option<&'g IppValue> {
    group.get(name).map(IppAttribute::value)
}

/// One value or several as words; what is none is left out.
pub(super) fn words(group: &IppAttributeGroup, name: &str) -> Vec<String> {
    let word = |value: &IppValue| match value {
        IppValue::Keyword(word) => Some(word.to_string()),
        IppValue::MimeMediaType(word) => Some(word.to_string()),
        IppValue::NameWithoutLanguage(word) => Some(word.to_string()),
        IppValue::TextWithoutLanguage(word) => Some(word.to_string()),
        IppValue::NameWithLanguage { name, .. } => Some(name.to_string()),
        IppValue::TextWithLanguage { text, .. } => Some(text.to_string()),
        _ => None,
    };
    value(group, name).into_iter().flatten().filter_map(word).collect()
}

pub(super) fn numbers(group: &IppAttributeGroup, name: &str) -> Vec<i32> {
    let number = |value: &IppValue| match value {
        IppValue::Integer(number) | IppValue::Enum(number) => Some(*number),
        _ => None,
    };
    value(group, name).into_iter().flatten().filter_map(number).collect()
}

fn job_id(answer: &IppRequestResponse) -> Answer<i32> {
    let group = answer.attributes().first_of(DelimiterTag::JobAttributes);
    let id = group.and_then(|group| numbers(group, "job-id").first().copied());
    id.ok_or_else(|| Trouble::Later("it took the job without a number".to_owned()))
}
