//! The page of the bench: served to this machine's own browser, rendered here, kept up to date by
//! server-sent events. It reads and works without scripts too; the script saves loading it again.

mod files;
mod guard;
mod log;
mod upload;
mod view;

use std::collections::HashMap;
use std::convert::Infallible;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Form, Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event, KeepAlive};
use axum::response::{Html, IntoResponse, Redirect, Response, Sse};
use axum::routing::{get, post};
use futures_util::Stream;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};

use super::engine::{Busy, Engine, Order};
use super::grammar::{self, Entry};
use super::sound::{self, Sound, Span};
use super::state::{Live, OnBench};
use crate::profile::Profile;
use crate::words::page::refused;
use guard::Guard;

/// Pages that may listen at a time: some windows, and a phone's worth more.
const MOST_PAGES: usize = 16;
/// Bytes of a form.
const MOST_FORM_BYTES: usize = 4096;
/// Letters of a line that is said.
const MOST_LETTERS: usize = 500;
/// Takes that are made to sound at a time.
const MOST_SOUNDS: usize = 2;

/// What every handler can reach.
#[derive(Clone)]
struct Bench {
    engine: Arc<Engine>,
    guard: Guard,
    pages: Arc<Semaphore>,
    sounds: Arc<Semaphore>,
    uploads: Arc<Semaphore>,
    /// Questions to the log, one at a time.
    questions: Arc<Semaphore>,
    paths: Arc<Paths>,
    usual: Arc<Profile>,
}

/// What is on the disk.
#[derive(Debug, Clone)]
pub struct Paths {
    /// The log, for its answers.
    pub log: PathBuf,
    /// Where dropped recordings are put until they are read.
    pub folder: PathBuf,
}

/// Serves the page on `port` of this machine (0: any free one) until `stop` says so.
///
/// * `usual`: what a reed is held to whose card does not say.
/// * `ready`: called with the address once it is served.
///
/// Errors: the port is taken, or this system gives no randomness for a token.
pub fn serve(
    engine: Engine,
    port: u16,
    (paths, usual): (Paths, Profile),
    mut stop: watch::Receiver<bool>,
    ready: impl FnOnce(SocketAddr),
) -> anyhow::Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
    let engine = Arc::new(engine);
    runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
        let listener = TcpListener::bind(address)
            .await
            .map_err(|error| anyhow::anyhow!(refused::no_port(port, &error)))?;
        let address = listener.local_addr()?;
        let bench = Bench {
            engine: engine.clone(),
            guard: Guard::new(address.port(), new_token()?),
            pages: Arc::new(Semaphore::new(MOST_PAGES)),
            sounds: Arc::new(Semaphore::new(MOST_SOUNDS)),
            uploads: Arc::new(Semaphore::new(1)),
            questions: Arc::new(Semaphore::new(1)),
            paths: Arc::new(paths),
            usual: Arc::new(usual),
        };
        ready(address);
        let ended = axum::serve(listener, routes(bench)).into_future();
        tokio::select! {
            ended = ended => ended.map_err(anyhow::Error::from),
            _ = stop.wait_for(|stop| *stop) => Ok(()),
        }
    })?;
    // Open pages hold the engine no longer once the runtime is gone; then it keeps what it heard.
    drop(runtime);
    drop(engine);
    Ok(())
}

fn new_token() -> anyhow::Result<String> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes)
        .map_err(|error| anyhow::anyhow!(refused::no_chance(&error.to_string())))?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn routes(bench: Bench) -> Router {
    let guard = bench.guard.clone();
    Router::new()
        .route("/", get(whole))
        .route("/events", get(events))
        .route("/say", post(say).layer(DefaultBodyLimit::max(MOST_FORM_BYTES)))
        .route("/recording", post(upload::recording).layer(DefaultBodyLimit::disable()))
        .route("/assets/{name}", get(files::asset))
        .route("/account.html", get(files::account_html))
        .route("/account.pdf", get(files::account_pdf))
        .route("/log", get(log::log))
        .route("/log/picture.svg", get(log::log_picture))
        .route("/sound/{name}", get(short_sound))
        .route("/sound/take/{number}", get(take_sound))
        .route("/sound/turn/{first}/{second}", get(turn_sound))
        .fallback(|| async { (StatusCode::NOT_FOUND, refused::NOTHING_HERE) })
        .layer(axum::middleware::from_fn_with_state(guard, guard::guarded))
        .with_state(bench)
}

async fn whole(State(bench): State<Bench>) -> Response {
    let state = bench.engine.state().borrow().clone();
    let live = bench.engine.live().borrow().clone();
    Html(view::page(&state, &live, bench.guard.token()).into_string()).into_response()
}

/// What the page changes by: parts of it under their own names whenever they read otherwise, and what
/// sounds some ten times a second.
async fn events(State(bench): State<Bench>) -> Response {
    let Ok(permit) = bench.pages.clone().try_acquire_owned() else {
        return (StatusCode::SERVICE_UNAVAILABLE, refused::TOO_MANY_PAGES).into_response();
    };
    let mut state = bench.engine.state();
    state.mark_changed();
    let listener = Listener {
        live: bench.engine.live(),
        state,
        shown: HashMap::new(),
        waiting: Vec::new(),
        token: bench.guard.token().to_owned(),
        _permit: permit,
    };
    let every = Duration::from_secs(15);
    Sse::new(listener.stream()).keep_alive(KeepAlive::new().interval(every)).into_response()
}

struct Listener {
    live: watch::Receiver<Live>,
    state: watch::Receiver<Arc<super::state::State>>,
    shown: HashMap<&'static str, String>,
    waiting: Vec<Event>,
    token: String,
    _permit: tokio::sync::OwnedSemaphorePermit,
}

impl Listener {
    fn stream(self) -> impl Stream<Item = Result<Event, Infallible>> {
        futures_util::stream::unfold(self, |mut listener| async move {
            let event = listener.next().await?;
            Some((Ok(event), listener))
        })
    }

    async fn next(&mut self) -> Option<Event> {
        loop {
            if let Some(event) = self.waiting.pop() {
                return Some(event);
            }
            tokio::select! {
                biased;
                changed = self.state.changed() => {
                    changed.ok()?;
                    let state = self.state.borrow_and_update().clone();
                    for (name, html) in view::parts(&state, &self.token) {
                        let html = html.into_string();
                        if self.shown.get(name) != Some(&html) {
                            self.waiting.push(event(name, &html));
                            self.shown.insert(name, html);
                        }
                    }
                }
                changed = self.live.changed() => {
                    changed.ok()?;
                    let state = self.state.borrow().clone();
                    let live = self.live.borrow_and_update().clone();
                    let html = view::live(&state, &live).into_string();
                    if self.shown.get("live") != Some(&html) {
                        self.waiting.push(event("live", &html));
                        self.shown.insert("live", html);
                    }
                }
            }
        }
    }
}

/// An event holds no carriage return, which would end a line of it; and one without data would reach
/// nobody.
fn event(name: &str, html: &str) -> Event {
    let html = if html.is_empty() { " " } else { html };
    Event::default().event(name).data(html.replace('\r', " "))
}

/// A line that was said: typed whole, or a word with its value beside it.
#[derive(Debug, serde::Deserialize)]
struct Said {
    #[serde(default)]
    token: String,
    #[serde(default)]
    line: String,
    #[serde(default)]
    value: String,
}

async fn say(State(bench): State<Bench>, headers: HeaderMap, Form(said): Form<Said>) -> Response {
    if let Err(refused) = bench.guard.knows(&said.token) {
        return refused.into_response();
    }
    let line = format!("{} {}", said.line, said.value);
    if line.chars().count() > MOST_LETTERS {
        return (StatusCode::PAYLOAD_TOO_LARGE, refused::TOO_LONG).into_response();
    }
    let is_why = matches!(grammar::parse(&line), Ok(Some(Entry::Why)));
    match ask(&bench, Order::Say(line)).await {
        Err(refused) => refused,
        Ok(reply) if headers.contains_key("x-bench") => match is_why {
            true => ([("x-opens", view::FIGURES)], reply).into_response(),
            false => reply.into_response(),
        },
        // Without a script the page is loaded anew, and says it there; a browser opens what holds the place
        // that it is led to.
        Ok(_) if is_why => Redirect::to("/#detail").into_response(),
        Ok(_) => Redirect::to("/").into_response(),
    }
}

/// Errors: the answer to a request that came too soon after too many others.
async fn ask(bench: &Bench, order: Order) -> Result<String, Response> {
    let busy = |busy| {
        let (status, why) = match busy {
            Busy::Full => (StatusCode::TOO_MANY_REQUESTS, refused::WAIT),
            Busy::Ended => (StatusCode::SERVICE_UNAVAILABLE, refused::ENDING),
        };
        (status, why).into_response()
    };
    let answered = bench.engine.ask(order).map_err(busy)?;
    answered.await.map_err(|_| busy(Busy::Ended))
}

async fn short_sound(State(bench): State<Bench>, Path(name): Path<String>) -> Response {
    let state = bench.engine.state().borrow().clone();
    let sound = match name.as_str() {
        "tone.wav" => {
            state.profile.lowest_note().map(|note| sound::tone(note.frequency(state.a4).hz()))
        }
        "heard.wav" => Some(sound::heard()),
        "not-a-crow.wav" => Some(sound::not_a_crow()),
        _ => None,
    };
    wav(sound)
}

async fn take_sound(State(bench): State<Bench>, Path(number): Path<String>) -> Response {
    let state = bench.engine.state().borrow().clone();
    let number = number.strip_suffix(".wav").and_then(|number| number.parse().ok());
    let found = number.zip(state.reed.as_ref()).and_then(|(number, reed)| recording(reed, number));
    let Some(found) = found else { return wav(None) };
    made(&bench, move || sound::of_take(&found.0, found.1).ok()).await
}

async fn turn_sound(
    State(bench): State<Bench>,
    Path((first, second)): Path<(u32, String)>,
) -> Response {
    let state = bench.engine.state().borrow().clone();
    let second = second.strip_suffix(".wav").and_then(|number| number.parse().ok());
    let both = state
        .reed
        .as_ref()
        .zip(second)
        .and_then(|(reed, second)| Some((recording(reed, first)?, recording(reed, second)?)));
    let Some((first, second)) = both else { return wav(None) };
    made(&bench, move || {
        let first = sound::of_take(&first.0, first.1).ok()?;
        let second = sound::of_take(&second.0, second.1).ok()?;
        Some(sound::in_turn(&first, &second))
    })
    .await
}

/// Where a take of the reed on the bench is, and from when to when its crows sound.
fn recording(reed: &OnBench, number: u32) -> Option<(PathBuf, Option<Span>)> {
    let (_, file) = reed.recordings.iter().find(|(known, _)| *known == number)?;
    let take = reed.history.takes.iter().find(|take| take.take.number == number)?;
    let crows = take.reading.as_ref().map(|logged| &logged.reading.crows);
    let span = crows.and_then(|crows| Some((crows.first()?.start_s, crows.last()?.end_s)));
    Some((file.clone(), span))
}

async fn made(bench: &Bench, make: impl FnOnce() -> Option<Sound> + Send + 'static) -> Response {
    let Ok(_permit) = bench.sounds.acquire().await else { return wav(None) };
    wav(tokio::task::spawn_blocking(make).await.ok().flatten())
}

fn wav(sound: Option<Sound>) -> Response {
    match sound.and_then(|sound| sound.wav()) {
        Some(bytes) => ([(header::CONTENT_TYPE, "audio/wav")], bytes).into_response(),
        None => (StatusCode::NOT_FOUND, refused::NO_SOUND).into_response(),
    }
}
