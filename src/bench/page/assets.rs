//! What the page is made of besides its text, inside the binary.

use axum::extract::Path;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

/// One of the page's files.
pub async fn asset(Path(name): Path<String>) -> Response {
    let (kind, bytes): (&str, &'static [u8]) = match name.as_str() {
        "bench.css" => ("text/css; charset=utf-8", include_bytes!("bench.css")),
        "bench.js" => ("text/javascript; charset=utf-8", include_bytes!("bench.js")),
        "mark.svg" => ("image/svg+xml", include_bytes!("mark.svg")),
        _ => return (StatusCode::NOT_FOUND, "there is nothing here").into_response(),
    };
    ([(header::CONTENT_TYPE, kind)], bytes).into_response()
}
