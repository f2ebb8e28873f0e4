//! The live page: the report and the files it links, to be read and nothing else.
//!
//! Whoever can reach the address may read, so it is this machine alone unless the maker says otherwise. A request is
//! answered from two places: the page as last written, and the plain files in the folders of `outgoing/`, each by two
//! bare names and opened without following links. What a browser is talked into by another site (a name that leads to
//! this machine) is told apart by its host. Connections are few and short: one request each, with a limit on its head,
//! on its time and on how many there are.

use std::convert::Infallible;
use std::fs::File;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;
use std::time::Duration;

use hyper::body::Incoming;
use hyper::header::{self, HeaderValue};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use sha2::{Digest as _, Sha256};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};

use crate::content::Content;
use crate::intake::is_bare_name;
use crate::journal::files::open_plain;

/// Connections at a time; more are turned away.
const MOST: usize = 32;

/// How long a request's head may take, and all of it with its answer.
const HEAD: Duration = Duration::from_secs(10);
const WHOLE: Duration = Duration::from_secs(600);

/// Bytes of a head.
const LONGEST_HEAD: usize = 16 << 10;

/// What finished jobs hold, and what it is.
const KINDS: [(&str, &str); 5] = [
    ("pdf", "application/pdf"),
    ("png", "image/png"),
    ("jpg", "image/jpeg"),
    ("txt", "text/plain; charset=utf-8"),
    ("json", "application/json"),
];

/// Where the page is served: an address with its port, or a port of this machine alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct At(SocketAddr);

impl FromStr for At {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let port = text.parse().map(|port: u16| SocketAddr::from(([127, 0, 0, 1], port)));
        port.or_else(|_| text.parse()).map(Self).map_err(|_| {
            "write an address with its port, such as 127.0.0.1:8080, or a port alone for this machine"
                .to_owned()
        })
    }
}

/// Serves the page and the files of `outgoing` for as long as the program runs. Gives the address, with the port if any
/// would do.
///
/// # Errors
/// Why nobody can be listened to there.
pub(crate) async fn serve(
    at: At,
    outgoing: PathBuf,
    page: watch::Receiver<String>,
) -> io::Result<SocketAddr> {
    let listener = TcpListener::bind(at.0).await?;
    let address = listener.local_addr()?;
    let site = Arc::new(Site { outgoing, page, anyone: !address.ip().is_loopback() });
    if site.anyone {
        tracing::warn!(%address, "the live page can be read by everybody who reaches this address");
    }
    tokio::spawn(listen(listener, site));
    Ok(address)
}

async fn listen(listener: TcpListener, site: Arc<Site>) {
    let places = Arc::new(Semaphore::new(MOST));
    loop {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            // As when there are no more files to be had; it passes.
            Err(why) => {
                tracing::debug!(%why, "a connection to the live page was lost");
                tokio::time::sleep(Duration::from_millis(100)).await;
                continue;
            }
        };
        let Ok(place) = Arc::clone(&places).try_acquire_owned() else { continue };
        let site = Arc::clone(&site);
        tokio::spawn(async move {
            let answer = service_fn(move |request| {
                let site = Arc::clone(&site);
                async move { Ok::<_, Infallible>(site.answer(&request).await) }
            });
            let mut http = http1::Builder::new();
            http.timer(TokioTimer::new())
                .header_read_timeout(HEAD)
                .max_buf_size(LONGEST_HEAD)
                .keep_alive(false);
            // However it ends, it concerns nobody else.
            drop(tokio::time::timeout(WHOLE, http.serve_connection(TokioIo::new(stream), answer)).await);
            drop(place);
        });
    }
}

/// What is served.
struct Site {
    outgoing: PathBuf,
    page: watch::Receiver<String>,
    /// Whether it is meant for other machines too.
    anyone: bool,
}

impl Site {
    async fn answer(&self, request: &Request<Incoming>) -> Response<Content> {
        let head = match *request.method() {
            Method::GET => false,
            Method::HEAD => true,
            _ => {
                let mut answer = plain(StatusCode::METHOD_NOT_ALLOWED, "This page is only read.\n");
                answer.headers_mut().insert(header::ALLOW, HeaderValue::from_static("GET, HEAD"));
                return answer;
            }
        };
        let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
        if !self.anyone && !host.is_some_and(is_this_machine) {
            return plain(StatusCode::FORBIDDEN, "Ask for this machine by its address.\n");
        }
        let mut answer = match request.uri().path() {
            "/" | "/index.html" => self.page(),
            // Browsers ask for one beside every text they show, and complain where there is none.
            "/favicon.ico" => plain(StatusCode::NO_CONTENT, ""),
            path => self.file(path).await,
        };
        if head {
            *answer.body_mut() = Content::empty();
        }
        answer
    }

    fn page(&self) -> Response<Content> {
        let page = self.page.borrow().clone();
        let stamp: String =
            Sha256::digest(page.as_bytes()).iter().take(12).map(|byte| format!("{byte:02x}")).collect();
        let mut answer = whole(StatusCode::OK, "text/html; charset=utf-8", page.into_bytes());
        if let Ok(stamp) = HeaderValue::from_str(&format!("\"{stamp}\"")) {
            answer.headers_mut().insert(header::ETAG, stamp);
        }
        answer
    }

    async fn file(&self, path: &str) -> Response<Content> {
        let Some((path, kind)) = place(&self.outgoing, path) else { return nothing() };
        let open = move || -> io::Result<(File, u64)> {
            // A link in place of a job's folder leads elsewhere.
            if !path
                .parent()
                .is_some_and(|folder| folder.symlink_metadata().is_ok_and(|facts| facts.is_dir()))
            {
                return Err(io::ErrorKind::NotFound.into());
            }
            let file = open_plain(&path)?;
            let length = file.metadata()?.len();
            Ok((file, length))
        };
        match tokio::task::spawn_blocking(open).await {
            Ok(Ok((file, length))) => with(StatusCode::OK, kind, Content::file(file, length)),
            _ => nothing(),
        }
    }
}

/// The file that a path leads to, and its kind: a job's folder and a file in it, by bare names.
fn place(outgoing: &Path, path: &str) -> Option<(PathBuf, &'static str)> {
    let (job, file) = path.strip_prefix('/')?.split_once('/')?;
    let (job, file) = (unescaped(job)?, unescaped(file)?);
    let ending = Path::new(&file).extension()?.to_str()?;
    let (_, kind) = KINDS.iter().find(|(known, _)| *known == ending)?;
    (is_bare_name(&job) && is_bare_name(&file)).then(|| (outgoing.join(job).join(file), *kind))
}

/// A part of an address as text; nothing where it is none.
fn unescaped(part: &str) -> Option<String> {
    let mut bytes = Vec::new();
    let mut rest = part.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digits = [rest.next()?, rest.next()?];
            let digits = std::str::from_utf8(&digits).ok().filter(|text| !text.starts_with('+'))?;
            bytes.push(u8::from_str_radix(digits, 16).ok()?);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

/// Whether a host names this machine in a way that nobody else can have a say in.
fn is_this_machine(host: &str) -> bool {
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split_once(']').map_or("", |(address, _)| address),
        None => host.rsplit_once(':').map_or(host, |(name, _)| name),
    };
    name == "localhost" || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

fn nothing() -> Response<Content> {
    plain(StatusCode::NOT_FOUND, "There is no such file.\n")
}

fn plain(status: StatusCode, words: &str) -> Response<Content> {
    whole(status, "text/plain; charset=utf-8", words.as_bytes().to_vec())
}

fn whole(status: StatusCode, kind: &'static str, bytes: Vec<u8>) -> Response<Content> {
    with(status, kind, Content::text(bytes.into()))
}

fn with(status: StatusCode, kind: &'static str, content: Content) -> Response<Content> {
    let length = content.left();
    let mut answer = Response::new(content);
    *answer.status_mut() = status;
    let headers = answer.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(header::CONTENT_LENGTH, length.into());
    for (name, value) in [
        (header::CACHE_CONTROL, "no-store"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_two_bare_names_lead_to_a_file() {
        let at = |path: &str| place(Path::new("/o"), path).map(|(path, _)| path);
        assert_eq!(at("/chart-1/sheets.pdf"), Some(PathBuf::from("/o/chart-1/sheets.pdf")));
        assert_eq!(at("/%C3%BC-1/notes.txt"), Some(PathBuf::from("/o/ü-1/notes.txt")));
        for path in [
            "/sheets.pdf",
            "//sheets.pdf",
            "/../sheets.pdf",
            "/chart/../../x.pdf",
            "/%2e%2e/x.pdf",
            "/a%2f..%2f../x.pdf",
            "/.staging/x.pdf",
            "/chart/.claim.json",
            "/chart/a%00.pdf",
            "/chart/x.yaml",
            "/chart/x",
            "/chart/%+1.pdf",
            "/chart/%zz.pdf",
            "/chart/%ff.pdf",
            "/chart/%",
            "chart/x.pdf",
        ] {
            assert_eq!(at(path), None, "{path}");
        }
    }

    #[test]
    fn hosts_and_addresses_are_told_apart() {
        for host in ["localhost", "localhost:80", "127.0.0.1:8080", "127.9.9.9", "[::1]:8080", "[::1]"] {
            assert!(is_this_machine(host), "{host}");
        }
        for host in [
            "studio.example:8080",
            "10.0.0.2",
            "localhost.example",
            "[::2]:80",
            "",
            ":80",
            "127.0.0.1.example",
        ] {
            assert!(!is_this_machine(host), "{host}");
        }
        assert_eq!("8080".parse(), Ok(At(SocketAddr::from(([127, 0, 0, 1], 8080)))));
        assert_eq!("0.0.0.0:1".parse(), Ok(At(SocketAddr::from(([0, 0, 0, 0], 1)))));
        assert!(["studio", "99999", "127.0.0.1", ""].iter().all(|text| text.parse::<At>().is_err()));
    }
}
