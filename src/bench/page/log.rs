//! What the log answers: a page of its own, only to be read.

use std::path::Path;

use axum::extract::{Query, State};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

use super::{Bench, view};
use crate::bench::asked::{Asked, answer, picture};
use crate::profile::Profile;
use crate::words::page::refused;

/// The answer to what the address asks.
pub async fn log(State(bench): State<Bench>, Query(asked): Query<Asked>) -> Response {
    let question = asked.clone();
    let told = looked_up(&bench, move |path, usual| answer(path, &question, usual)).await;
    let told = told.unwrap_or_else(|| Err(anyhow::anyhow!(refused::LOAD_AGAIN)));
    Html(view::log(&asked, told.as_ref()).into_string()).into_response()
}

/// The picture that goes with it.
pub async fn log_picture(State(bench): State<Bench>, Query(asked): Query<Asked>) -> Response {
    match looked_up(&bench, move |path, usual| picture(path, &asked, usual)).await {
        Some(Ok(Some(bytes))) => ([(header::CONTENT_TYPE, "image/svg+xml")], bytes).into_response(),
        _ => (StatusCode::NOT_FOUND, refused::NO_PICTURE).into_response(),
    }
}

/// Reads the log on a thread of its own, one question after the other: the bench goes on listening.
async fn looked_up<T: Send + 'static>(
    bench: &Bench,
    look: impl FnOnce(&Path, &Profile) -> anyhow::Result<T> + Send + 'static,
) -> Option<anyhow::Result<T>> {
    let _permit = bench.questions.acquire().await.ok()?;
    let (paths, usual) = (bench.paths.clone(), bench.usual.clone());
    tokio::task::spawn_blocking(move || look(&paths.log, &usual)).await.ok()
}
