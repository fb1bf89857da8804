//! What stands before every page: host, origin, session, role, token; and the headers that go with every answer.

use crate::access::{Role, Session};
use crate::bench::Bench;
use crate::pages::plain;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;
use std::sync::Arc;

/// Nothing inline runs, nothing comes from elsewhere, nothing of ours stands in another's page. The typeface lies
/// inside the style sheet, hence `data:` for fonts; pictures still on the phone have `blob:` addresses.
pub const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; \
     font-src data:; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; \
     base-uri 'none'; frame-ancestors 'none'";

/// Header in which scripts send a session's token.
pub const TOKEN: &str = "x-windtight-token";

/// Paths that are answered without a session: nothing of a project is in them.
fn is_open(path: &str) -> bool {
    path == "/start" || path == "/sw.js" || path == "/manifest.webmanifest" || path.starts_with("/assets/")
}

/// Lets a request through or answers for the page.
pub async fn guard(State(bench): State<Arc<Bench>>, mut request: Request, next: Next) -> Response {
    let answer = match refuse(&bench, &mut request) {
        Some(refusal) => refusal,
        None => next.run(request).await,
    };
    with_headers(answer)
}

fn refuse(bench: &Bench, request: &mut Request) -> Option<Response> {
    let headers = request.headers();
    // A second host would let one server and another disagree about whose request this is.
    if headers.get_all(header::HOST).iter().count() != 1 || !bench.access.host(text(headers, &header::HOST)) {
        return Some(plain(
            StatusCode::MISDIRECTED_REQUEST,
            "Not here",
            "Windtight answers under its own address on this machine only. Use the address it printed.",
        ));
    }
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    let named = |name: &'static str| text(headers, &HeaderName::from_static(name));
    let (origin, site) = (text(headers, &header::ORIGIN), named("sec-fetch-site"));
    if !bench.access.origin(changes, origin, site, named("sec-fetch-dest")) {
        return Some(plain(
            StatusCode::FORBIDDEN,
            "Refused",
            "This request came from another page. Open Windtight's own page and try there.",
        ));
    }
    if is_open(request.uri().path()) {
        return None;
    }
    let cookies = text(headers, &header::COOKIE);
    let Some(session) = bench.access.session(cookies) else {
        return Some(plain(
            StatusCode::UNAUTHORIZED,
            "Who is there?",
            "This browser has no key to this project. Open the address that `windtight serve` printed; it holds the \
             key, and is made anew at each start.",
        ));
    };
    if changes && session.role < Role::Log {
        return Some(forbidden("This key lets you look, not write."));
    }
    // Forms carry the token in their body and are looked at there.
    let token = named(TOKEN);
    if changes && token.is_some_and(|t| !session.owns(t)) {
        return Some(forbidden(
            "The page's token is not this session's. Load the page again, then send again.",
        ));
    }
    let by_header = token.is_some();
    request.extensions_mut().insert(Visitor { session, by_header });
    None
}

/// Who asks.
#[derive(Clone, Debug)]
pub struct Visitor {
    /// The session.
    pub session: Session,
    /// Whether the token came in the header and is right.
    by_header: bool,
}

impl Visitor {
    /// Says whether a change may be made: role and token both right.
    ///
    /// # Errors
    /// The answer to give instead.
    pub fn may(&self, role: Role, token: Option<&str>) -> Result<(), Box<Response>> {
        if self.session.role < role {
            let words = match role {
                Role::Edit => "This key does not let you change the book.",
                _ => "This key lets you look, not write.",
            };
            return Err(Box::new(forbidden(words)));
        }
        if self.by_header || token.is_some_and(|t| self.session.owns(t)) {
            return Ok(());
        }
        Err(Box::new(forbidden("The page's token is missing or not this session's. Load the page again.")))
    }
}

fn forbidden(words: &str) -> Response {
    plain(StatusCode::FORBIDDEN, "Refused", words)
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

fn with_headers(mut answer: Response) -> Response {
    let headers = answer.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // `no-referrer` would make browsers send forms with the origin `null`.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::X_FRAME_OPTIONS, "DENY");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(HeaderName::from_static("permissions-policy"), "geolocation=(), microphone=(), payment=()");
    set(header::CACHE_CONTROL, "no-store");
    answer
}
