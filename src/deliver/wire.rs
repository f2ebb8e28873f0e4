//! One request to a printer and its answer, over a connection of its own.
//!
//! Printers are slow and hang: connecting and answering have their time, and a body may take as long as it moves.

use std::fs::File;
use std::future::poll_fn;
use std::path::Path;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use hyper::body::{Body as _, Bytes, Incoming};
use hyper::client::conn::http1;
use hyper::header::{self, HeaderValue};
use hyper::{Method, Request, StatusCode, Uri};
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;
use tokio::sync::Notify;
use tokio::time::timeout;

use crate::content::Content;

/// The port of printers (RFC 8011, 4.1).
const PORT: u16 = 631;

/// How long connecting may take, and how long nothing may move.
const CONNECT: Duration = Duration::from_secs(10);
const IDLE: Duration = Duration::from_secs(120);

/// The longest answer, in bytes: all that a printer can do takes some hundred thousand.
const LONGEST: usize = 4 << 20;

/// Sends a head and a file after it; the answer's bytes, or in words why there is none.
pub(super) async fn post(to: &str, head: Bytes, file: Option<&Path>) -> Result<Bytes, String> {
    let uri: Uri = to.parse().map_err(|_| format!("{to} is no address"))?;
    let host = uri.host().unwrap_or_default().trim_matches(['[', ']']);
    let port = uri.port_u16().unwrap_or(PORT);
    let connecting = timeout(CONNECT, TcpStream::connect((host, port))).await;
    let stream = connecting.map_err(|_| "it does not answer".to_owned())?.map_err(|why| why.to_string())?;
    let (mut sender, connection) =
        http1::handshake(TokioIo::new(stream)).await.map_err(|why| why.to_string())?;
    // It ends with the sender; what goes wrong with it is told to that.
    let connection = tokio::spawn(connection);
    let bell = Arc::new(Notify::new());
    let request = request(&uri, port, body(head, file)?.ringing(Arc::clone(&bell)))?;
    let answer = async {
        let answer = sender.send_request(request).await.map_err(|why| broken(&why))?;
        let status = answer.status();
        if status == StatusCode::OK { whole(answer.into_body(), &bell).await } else { Err(refused(status)) }
    };
    let mut answer = std::pin::pin!(answer);
    let answer = loop {
        tokio::select! {
            answer = &mut answer => break answer,
            moved = timeout(IDLE, bell.notified()) => if moved.is_err() { break Err("it has stopped answering".to_owned()) },
        }
    };
    connection.abort();
    answer
}

fn body(head: Bytes, file: Option<&Path>) -> Result<Content, String> {
    let Some(path) = file else { return Ok(Content::text(head)) };
    let open = || {
        let file = File::open(path)?;
        let length = file.metadata()?.len();
        Ok(Content::file(file, length).after(head))
    };
    open().map_err(|why: std::io::Error| format!("the sheets cannot be read: {why}"))
}

fn request(uri: &Uri, port: u16, content: Content) -> Result<Request<Content>, String> {
    let path = if uri.path().is_empty() { "/" } else { uri.path() };
    let host = format!("{}:{port}", uri.host().unwrap_or_default());
    let length = content.left();
    let mut request = Request::new(content);
    *request.method_mut() = Method::POST;
    *request.uri_mut() = path.parse().map_err(|_| format!("{path} is no path"))?;
    let headers = request.headers_mut();
    headers.insert(header::HOST, HeaderValue::from_str(&host).map_err(|why| why.to_string())?);
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/ipp"));
    headers.insert(header::CONTENT_LENGTH, length.into());
    Ok(request)
}

async fn whole(mut body: Incoming, bell: &Notify) -> Result<Bytes, String> {
    let mut bytes = Vec::new();
    while let Some(frame) = poll_fn(|context| Pin::new(&mut body).poll_frame(context)).await {
        let frame = frame.map_err(|why| broken(&why))?;
        bell.notify_one();
        bytes.extend_from_slice(frame.data_ref().map_or(&[], |data| data));
        if bytes.len() > LONGEST {
            return Err("its answer is too long".to_owned());
        }
    }
    Ok(bytes.into())
}

/// hyper says the most of it in its source.
fn broken(why: &hyper::Error) -> String {
    let source = std::error::Error::source(why).map(|source| format!(" ({source})"));
    format!("the connection broke: {why}{}", source.unwrap_or_default())
}

fn refused(status: StatusCode) -> String {
    match status {
        StatusCode::UNAUTHORIZED | StatusCode::FORBIDDEN => {
            format!("it wants a password or lets nobody in ({status}), which must be changed at the printer")
        }
        StatusCode::UPGRADE_REQUIRED => {
            format!("it wants encryption ({status}), which must be changed at the printer")
        }
        StatusCode::NOT_FOUND => format!("there is no printer at that path ({status})"),
        status => format!("it answered {status}"),
    }
}
