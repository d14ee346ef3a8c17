//! Files that the page gives: those it is made of besides its text, inside the binary, and the account
//! for the owner, to be saved.

use axum::extract::{Path, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::Bench;
use crate::bench::account::account;
use crate::report::account::{Letter, Paper, html, pdf};
use crate::words::format::LengthUnit;
use crate::words::page::refused;

/// How the account is asked for.
#[derive(Debug, Deserialize)]
pub struct Asked {
    /// There where the maker's notes are to stand in it, whatever it says.
    notes: Option<String>,
}

/// It as a page.
pub async fn account_html(State(bench): State<Bench>, asked: Query<Asked>) -> Response {
    sent(&bench, "html", &asked, |letter| Some(html(letter, Paper::default()).into_bytes())).await
}

/// It as PDF.
pub async fn account_pdf(State(bench): State<Bench>, asked: Query<Asked>) -> Response {
    sent(&bench, "pdf", &asked, |letter| Some(pdf(letter, Paper::default()).ok()?.bytes)).await
}

async fn sent(
    bench: &Bench,
    ending: &str,
    asked: &Asked,
    make: impl FnOnce(&Letter) -> Option<Vec<u8>> + Send + 'static,
) -> Response {
    let state = bench.engine.state().borrow().clone();
    let with_notes = asked.notes.is_some();
    let made = tokio::task::spawn_blocking(move || {
        let reed = state.reed.as_ref()?;
        let sender = state.sender.as_ref();
        make(&account(&reed.history, &state.profile, sender, LengthUnit::Millimetres, with_notes))
    });
    match made.await.ok().flatten() {
        // Saved, never shown: it is not a page of the bench. Its name is ours, the reed's may hold anything.
        Some(bytes) => {
            let kept_as = format!("attachment; filename=\"account.{ending}\"");
            ([(header::CONTENT_DISPOSITION, kept_as)], bytes).into_response()
        }
        None => (StatusCode::NOT_FOUND, refused::NO_ACCOUNT).into_response(),
    }
}

/// One of the page's files.
pub async fn asset(Path(name): Path<String>) -> Response {
    let (kind, bytes): (&str, &'static [u8]) = match name.as_str() {
        "bench.css" => ("text/css; charset=utf-8", include_bytes!("bench.css")),
        "bench.js" => ("text/javascript; charset=utf-8", include_bytes!("bench.js")),
        "mark.svg" => ("image/svg+xml", include_bytes!("mark.svg")),
        _ => return (StatusCode::NOT_FOUND, refused::NOTHING_HERE).into_response(),
    };
    ([(header::CONTENT_TYPE, kind)], bytes).into_response()
}
