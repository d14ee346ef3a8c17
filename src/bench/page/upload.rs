//! Recordings dropped on the page. Their names are only told, never used as paths.

use std::io::Write;
use std::path::PathBuf;

use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt;

use super::{Bench, Order, ask};
use crate::text::visible;
use crate::words::page::refused;

/// Bytes of a recording: half an hour of a good microphone's WAV would be more, but nobody crows for so
/// long; a folder of recordings is for 'batch'.
const MOST_BYTES: u64 = 64 << 20;

/// Letters of a name that are told.
const MOST_LETTERS: usize = 80;

/// Takes a recording as the body of the request; the headers bring token and name.
pub async fn recording(State(bench): State<Bench>, headers: HeaderMap, body: Body) -> Response {
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or("");
    if let Err(refused) = bench.guard.knows(text("x-token")) {
        return refused.into_response();
    }
    let announced = text("content-length").parse::<u64>().unwrap_or(0);
    if announced > MOST_BYTES {
        return too_large();
    }
    let Ok(_permit) = bench.uploads.clone().try_acquire_owned() else {
        return (StatusCode::TOO_MANY_REQUESTS, refused::ONE_AT_A_TIME).into_response();
    };
    let name = told_name(text("x-name"));
    match put_down(&bench, body).await {
        Ok(file) => match ask(&bench, Order::Recording(file, name)).await {
            Ok(reply) => reply.into_response(),
            Err(refused) => refused,
        },
        Err(refused) => refused,
    }
}

/// The name as it is told: what the browser encoded for a header, without folders.
fn told_name(encoded: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = encoded.bytes();
    while let Some(byte) = rest.next() {
        let pair = |rest: &mut std::str::Bytes<'_>| {
            let (high, low) = (rest.next()?, rest.next()?);
            u8::from_str_radix(std::str::from_utf8(&[high, low]).ok()?, 16).ok()
        };
        match byte {
            b'%' => bytes.extend(pair(&mut rest)),
            plain => bytes.push(plain),
        }
    }
    let name = String::from_utf8_lossy(&bytes);
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let short: String = visible(last).chars().take(MOST_LETTERS).collect();
    if short.is_empty() { "recording".to_owned() } else { short }
}

/// Writes the body to a file of the program's own naming.
async fn put_down(bench: &Bench, body: Body) -> Result<PathBuf, Response> {
    let failed = |error: std::io::Error| {
        (StatusCode::INSUFFICIENT_STORAGE, refused::not_kept(&error)).into_response()
    };
    std::fs::create_dir_all(&bench.paths.folder).map_err(failed)?;
    let mut file = tempfile::Builder::new()
        .prefix("dropped-")
        .suffix(".part")
        .tempfile_in(&bench.paths.folder)
        .map_err(failed)?;
    let mut stream = body.into_data_stream();
    let mut bytes = 0_u64;
    while let Some(piece) = stream.next().await {
        let Ok(piece) = piece else {
            return Err((StatusCode::BAD_REQUEST, refused::BROKE_OFF).into_response());
        };
        bytes += piece.len() as u64;
        if bytes > MOST_BYTES {
            return Err(too_large());
        }
        file.write_all(&piece).map_err(failed)?;
    }
    let (_, path) = file.keep().map_err(|error| failed(error.error))?;
    Ok(path)
}

fn too_large() -> Response {
    (StatusCode::PAYLOAD_TOO_LARGE, refused::too_large(MOST_BYTES >> 20)).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_told_without_folders_and_without_what_cannot_be_seen() {
        assert_eq!(told_name("crow%20%C3%A9.wav"), "crow é.wav");
        assert_eq!(told_name("..%2F..%2Fetc%2Fpasswd"), "passwd");
        assert_eq!(told_name("a%5Cb.wav"), "b.wav");
        assert_eq!(told_name("a%00b%0Ac"), "a\\u0000b\\nc");
        assert_eq!(told_name("%"), "recording");
        assert!(told_name(&"x".repeat(500)).chars().count() <= MOST_LETTERS);
    }
}
