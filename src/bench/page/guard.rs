//! Who may ask what: this machine's own browser, from this page. Whatever changes something wants the
//! token that is made anew at every start.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::words::page::refused;

/// What requests are held against.
#[derive(Debug, Clone)]
pub struct Guard {
    hosts: [String; 3],
    token: String,
}

/// Why a request is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// Sent to another name than this machine's own, as a page elsewhere does whose name was turned
    /// to lead here.
    Host,
    /// Sent by the page of another origin.
    Origin,
    /// Without the token of this start.
    Token,
}

impl Guard {
    /// * `port`: the one served on.
    /// * `token`: made at this start, and told to this page alone.
    pub fn new(port: u16, token: String) -> Self {
        let hosts = ["127.0.0.1", "localhost", "[::1]"].map(|host| format!("{host}:{port}"));
        Self { hosts, token }
    }

    /// The token, to be written into the page.
    pub fn token(&self) -> &str {
        &self.token
    }

    /// Errors: a host or origin that is not this page's.
    pub fn admits(&self, headers: &HeaderMap) -> Result<(), Refused> {
        let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
        let is_here = |host: &str| self.hosts.iter().any(|own| own.eq_ignore_ascii_case(host));
        if headers.get_all(header::HOST).iter().count() != 1
            || !text(header::HOST).is_some_and(is_here)
        {
            return Err(Refused::Host);
        }
        if let Some(origin) = text(header::ORIGIN)
            && !origin.strip_prefix("http://").is_some_and(is_here)
        {
            return Err(Refused::Origin);
        }
        // Browsers say from where a request comes also where they send no origin.
        match text(HeaderName::from_static("sec-fetch-site")) {
            None | Some("same-origin" | "none") => Ok(()),
            Some(_) => Err(Refused::Origin),
        }
    }

    /// Errors: not the token of this start.
    pub fn knows(&self, token: &str) -> Result<(), Refused> {
        let (own, given) = (self.token.as_bytes(), token.as_bytes());
        // The time that it takes tells nothing of where they differ.
        let differences = own.iter().zip(given).fold(0, |all, (a, b)| all | (a ^ b));
        if own.len() == given.len() && differences == 0 { Ok(()) } else { Err(Refused::Token) }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let (status, why) = match self {
            Self::Host => (StatusCode::MISDIRECTED_REQUEST, refused::OTHER_HOST),
            Self::Origin => (StatusCode::FORBIDDEN, refused::OTHER_PAGE),
            Self::Token => (StatusCode::FORBIDDEN, refused::EARLIER_PAGE),
        };
        (status, why).into_response()
    }
}

/// What the page may do: load what this server has, send forms to it, and nothing else.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; \
                      img-src 'self'; media-src 'self'; connect-src 'self'; form-action 'self'; \
                      base-uri 'none'; frame-ancestors 'none'";

/// Refuses what is not from here, and sets what every answer says of itself.
pub async fn guarded(State(guard): State<Guard>, request: Request<Body>, next: Next) -> Response {
    let mut response = match guard.admits(request.headers()) {
        Err(refused) => refused.into_response(),
        Ok(()) if ![Method::GET, Method::HEAD, Method::POST].contains(request.method()) => {
            StatusCode::METHOD_NOT_ALLOWED.into_response()
        }
        Ok(()) => next.run(request).await,
    };
    let headers = response.headers_mut();
    for (name, value) in [
        ("content-security-policy", POLICY),
        ("x-content-type-options", "nosniff"),
        // Without any referrer a browser sends no origin with a form either.
        ("referrer-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
        ("cache-control", "no-store"),
    ] {
        headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&str, &str)]) -> HeaderMap {
        let mut headers = HeaderMap::new();
        for (name, value) in pairs {
            headers.append(
                HeaderName::from_bytes(name.as_bytes()).unwrap(),
                HeaderValue::from_str(value).unwrap(),
            );
        }
        headers
    }

    #[test]
    fn only_this_machines_own_page_is_answered() {
        let guard = Guard::new(4747, "0123".into());
        let admits = |pairs: &[(&str, &str)]| guard.admits(&headers(pairs));
        let host = ("host", "127.0.0.1:4747");
        assert_eq!(admits(&[host]), Ok(()));
        assert_eq!(admits(&[("host", "LOCALHOST:4747")]), Ok(()));
        for bad in ["127.0.0.1", "127.0.0.1:80", "evil.test:4747", "evil.test", ""] {
            assert_eq!(admits(&[("host", bad)]), Err(Refused::Host), "{bad}");
        }
        assert_eq!(admits(&[]), Err(Refused::Host));
        assert_eq!(admits(&[host, ("host", "evil.test:4747")]), Err(Refused::Host));
        assert_eq!(admits(&[host, ("origin", "http://127.0.0.1:4747")]), Ok(()));
        for bad in ["http://evil.test", "null", "https://127.0.0.1:4747", "http://127.0.0.1:4748"] {
            assert_eq!(admits(&[host, ("origin", bad)]), Err(Refused::Origin), "{bad}");
        }
        assert_eq!(admits(&[host, ("sec-fetch-site", "cross-site")]), Err(Refused::Origin));
        assert_eq!(admits(&[host, ("sec-fetch-site", "same-origin")]), Ok(()));
    }

    #[test]
    fn another_token_is_refused() {
        let guard = Guard::new(4747, "0123456789abcdef".into());
        assert_eq!(guard.knows("0123456789abcdef"), Ok(()));
        for bad in ["", "0123456789abcde", "0123456789abcdeF", "0123456789abcdef0"] {
            assert_eq!(guard.knows(bad), Err(Refused::Token), "{bad}");
        }
    }
}
