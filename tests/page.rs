//! The page over its own router: who is answered, what is refused, and the whole walk.

use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use camwitness::engine::Engine;
use camwitness::page::{Session, listen, router};
use camwitness::practice::{DecimalMark, Dialect, Scenario, Separator, csv_text, generate};
use http_body_util::BodyExt;
use serde_json::{Value, json};
use tower::ServiceExt;

const PORT: u16 = 4000;
const DEMO: &str = include_str!("../demo-data/engine.toml");
/// Uploads of the tests stay under this; the refused one passes it.
const MOST: u64 = 4_000_000;

struct Page {
    session: Arc<Session>,
    runtime: tokio::runtime::Runtime,
}

impl Page {
    fn new() -> Page {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        Page { session: Arc::new(Session::new(PORT, MOST)), runtime: runtime.expect("a runtime") }
    }

    fn send(&self, request: Request<Body>) -> Response<Body> {
        self.runtime.block_on(router(self.session.clone()).oneshot(request)).expect("an answer")
    }

    /// Asks as the page itself does, and takes the answer apart.
    fn ask(&self, method: &str, address: &str, body: impl Into<Body>) -> (StatusCode, Value) {
        let request = Request::builder()
            .method(method)
            .uri(address)
            .header("host", format!("127.0.0.1:{PORT}"))
            .header("origin", format!("http://127.0.0.1:{PORT}"))
            .header("content-type", "application/json")
            .body(body.into())
            .expect("a request");
        let (status, text) = self.text(request);
        (status, serde_json::from_str(&text).unwrap_or(Value::String(text)))
    }

    fn text(&self, request: Request<Body>) -> (StatusCode, String) {
        let answer = self.send(request);
        let status = answer.status();
        let bytes = self.runtime.block_on(answer.into_body().collect()).expect("a body").to_bytes();
        (status, String::from_utf8_lossy(&bytes).into_owned())
    }

    fn with_headers(&self, method: &str, headers: &[(&str, &str)]) -> StatusCode {
        let mut request = Request::builder().method(method).uri("/api/session");
        if method != "GET" {
            request = request.uri("/api/engines?name=e.toml");
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        self.send(request.body(Body::from(DEMO)).expect("a request")).status()
    }

    /// Waits for a run to end.
    fn wait(&self, id: &Value) -> Value {
        for _ in 0..2_000 {
            let (_, run) = self.ask("GET", &format!("/api/runs/{id}"), "");
            if run["state"] != "working" {
                return run;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        panic!("the run never ends")
    }
}

fn capture(fault: &str) -> String {
    let engine = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
    let faults = if fault.is_empty() { vec![] } else { vec![fault.parse().expect("a fault")] };
    let made = generate(&Scenario { faults, ..Scenario::new(engine) }).expect("a practice capture");
    let dialect =
        Dialect { separator: Separator::Comma, decimal: DecimalMark::Point, unit_row: false };
    csv_text(&made.capture, &made.steps, dialect).expect("a dialect")
}

#[test]
fn only_this_page_is_answered() {
    let page = Page::new();
    let here = format!("127.0.0.1:{PORT}");
    let origin = format!("http://{here}");
    let local = format!("localhost:{PORT}");
    let ok = StatusCode::OK;
    let no = StatusCode::FORBIDDEN;
    // (method, headers, status)
    type Row<'a> = (&'a str, Vec<(&'a str, &'a str)>, StatusCode);
    let rows: [Row; 11] = [
        ("GET", vec![("host", &here)], ok),
        ("GET", vec![("host", &local)], ok),
        ("GET", vec![], no),
        ("GET", vec![("host", "camwitness.example")], no),
        ("GET", vec![("host", "127.0.0.1:4001")], no),
        ("GET", vec![("host", &here), ("origin", "http://evil.example")], no),
        ("GET", vec![("host", &here), ("origin", "null")], no),
        ("POST", vec![("host", &here), ("origin", &origin)], ok),
        ("POST", vec![("host", &here), ("x-camwitness", "1")], ok),
        ("POST", vec![("host", &here)], no),
        (
            "POST",
            vec![
                ("host", &here),
                ("origin", "http://127.0.0.1:4000.evil.example"),
                ("x-camwitness", "1"),
            ],
            no,
        ),
    ];
    for (method, headers, want) in rows {
        assert_eq!(page.with_headers(method, &headers), want, "{method} {headers:?}");
    }
}

#[test]
fn a_capture_walks_through_to_its_report() {
    let page = Page::new();
    let (status, shown) =
        page.ask("POST", "/api/captures?name=late.csv", capture("skip:B1 intake@primary:+1"));
    assert_eq!(status, StatusCode::OK, "{shown}");
    let guesses: Vec<&str> = shown["channels"]
        .as_array()
        .expect("channels")
        .iter()
        .map(|c| c["guess"].as_str().expect("a guess"))
        .collect();
    assert_eq!(guesses, ["crank", "cam", "cam", "starter"]);
    assert!(shown["channels"][0]["trace"].as_str().expect("a trace").len() > 500);
    let (_, session) = page.ask("GET", "/api/session", "");
    let engine = session["engines"][0]["id"].clone();
    let ask = json!({"capture": shown["id"], "engine": engine, "codes": ["P0016"], "job": {"number": "<b>7"}});
    let (status, run) = page.ask("POST", "/api/runs", ask.to_string());
    assert_eq!(status, StatusCode::OK, "{run}");
    let run = page.wait(&run["id"]);
    assert_eq!(run["state"], "done", "{run}");
    assert_eq!(run["finding"]["state"], "jumped");
    let base = format!("/runs/{}/", run["id"]);
    let (_, report) = page.ask("GET", &format!("{base}report"), "");
    let report = report.as_str().expect("HTML");
    assert!(report.contains("data-state=\"jumped\"") && report.contains("&lt;b&gt;7"));
    let (_, result) = page.ask("GET", &format!("{base}result.json"), "");
    assert_eq!(result["verdict"]["state"], "jumped");
    for name in ["traces.svg", "cycles.png"] {
        assert_eq!(page.ask("GET", &format!("{base}{name}"), "").0, StatusCode::OK, "{name}");
    }
    for name in ["..%2f..%2fetc%2fpasswd", "traces.toml", "other.svg"] {
        assert_eq!(
            page.ask("GET", &format!("{base}{name}"), "").0,
            StatusCode::NOT_FOUND,
            "{name}"
        );
    }
}

#[test]
fn two_tabs_share_one_session_and_keep_their_results() {
    let page = Page::new();
    let (_, first) =
        page.ask("POST", "/api/captures?name=before.csv", capture("skip:B1 intake@primary:+1"));
    let (_, second) = page.ask("POST", "/api/captures?name=after.csv", capture(""));
    let (_, session) = page.ask("GET", "/api/session", "");
    let engine = session["engines"][0]["id"].clone();
    let ids: Vec<Value> = [&first, &second]
        .iter()
        .map(|shown| {
            let ask = json!({"capture": shown["id"], "engine": engine}).to_string();
            page.ask("POST", "/api/runs", ask).1["id"].clone()
        })
        .collect();
    let states: Vec<Value> =
        ids.iter().map(|id| page.wait(id)["finding"]["state"].clone()).collect();
    assert_eq!(states, ["jumped", "in_time"]);
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["runs"].as_array().expect("runs").len(), 2);
    assert_eq!(page.ask("DELETE", &format!("/api/captures/{}", first["id"]), "").0, StatusCode::OK);
    let ask = json!({"capture": first["id"], "engine": engine}).to_string();
    assert_eq!(page.ask("POST", "/api/runs", ask).0, StatusCode::NOT_FOUND);
    assert_eq!(page.wait(&ids[0])["state"], "done", "its result stays");
}

#[test]
fn what_cannot_be_used_is_said_plainly() {
    let page = Page::new();
    let big = vec![b'1'; MOST as usize + 1];
    let bad = "time,crank\n0,1\n1,x\n";
    let stranger = DEMO.replace("three-uneven", "../../secret.toml");
    let rootless = DEMO.replace("teeth = 42", "teeth = 41");
    // (address, body, status, part of the message)
    let rows: [(&str, Vec<u8>, StatusCode, &str); 7] = [
        ("/api/captures?name=big.csv", big, StatusCode::PAYLOAD_TOO_LARGE, "--max-upload"),
        ("/api/captures?name=b.csv", bad.into(), StatusCode::UNPROCESSABLE_ENTITY, "b.csv, line 3"),
        (
            "/api/captures?name=..%2F..%2Fx.csv",
            bad.into(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "x.csv, line 3",
        ),
        (
            "/api/engines?name=e.toml",
            b"name = 1".to_vec(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "e.toml",
        ),
        ("/api/engines?name=e.toml", vec![0xff, 0xfe], StatusCode::UNPROCESSABLE_ENTITY, "no text"),
        (
            "/api/engines?name=e.toml",
            stranger.into(),
            StatusCode::UNPROCESSABLE_ENTITY,
            "opens none",
        ),
        ("/api/engines?name=e.toml", rootless.into(), StatusCode::UNPROCESSABLE_ENTITY, "1/2"),
    ];
    for (address, body, want, part) in rows {
        let (status, answer) = page.ask("POST", address, body);
        assert_eq!(status, want, "{address}: {answer}");
        let message = answer["error"].as_str().expect("a message");
        assert!(message.contains(part), "{address}: {message}");
        assert!(!message.contains("../x.csv"), "a name is a label without its folders: {message}");
    }
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["captures"].as_array().expect("captures").len(), 0);
    assert_eq!(session["engines"].as_array().expect("engines").len(), 1, "the demonstration's");
}

fn form() -> Value {
    let cam = |name: &str, bank: &str, at: &str| {
        json!({"name": name, "bank": bank, "shaft": "intake", "wheel": "0..30 90..150 250..265", "sensor": "hall",
               "at": at, "rest": "retarded", "travel": "50"})
    };
    json!({"name": "From the form", "firing_order": "1-2-3-4-5-6", "bank1": "1 3 5", "bank2": "2, 4, 6",
           "crank_wheel": "36 without 35 36", "crank_sensor": "hall", "crank_edge": "falling", "tdc": "74",
           "tolerance": "", "cams": [cam("B1 intake", "1", "113"), cam("B2 intake", "2", "473,0")],
           "chain_kind": "chain", "crank_teeth": "21", "cam_teeth": "42"})
}

#[test]
fn the_form_writes_an_engine_file_that_measures() {
    let page = Page::new();
    let (status, answer) = page.ask("POST", "/api/engines/form", form().to_string());
    assert_eq!(status, StatusCode::OK);
    assert_eq!(answer["message"], Value::Null, "{answer}");
    let text = answer["toml"].as_str().expect("a file");
    let engine =
        Engine::parse(text, std::path::Path::new("form.toml")).expect("readable as any other");
    assert_eq!((engine.cams.len(), engine.crank.wheel.tooth_count()), (2, 34));
    let (_, shown) =
        page.ask("POST", "/api/captures?name=c.csv", capture("skip:B1 intake@primary:+1"));
    let ask = json!({"capture": shown["id"], "engine": answer["engine"]["id"]}).to_string();
    let (_, run) = page.ask("POST", "/api/runs", ask);
    assert_eq!(page.wait(&run["id"])["state"], "done");
    // (field, value, the field named in the answer)
    for (field, value, named) in [
        ("name", "", "name"),
        ("crank_wheel", "/etc/passwd", "crank_wheel"),
        ("firing_order", "one", "firing_order"),
        ("tdc", "x", "tdc"),
        ("cam_teeth", "", "cam_teeth"),
        ("crank_teeth", "20", ""),
    ] {
        let mut broken = form();
        broken[field] = value.into();
        let (status, answer) = page.ask("POST", "/api/engines/form", broken.to_string());
        assert_eq!(
            (status, &answer["field"]),
            (StatusCode::OK, &json!(named)),
            "{field}: {answer}"
        );
        assert!(
            answer["message"].as_str().expect("a message").len() > 10 && answer["engine"].is_null()
        );
    }
    let (status, wheel) = page.ask("GET", "/api/wheel?spec=%3Cscript%3E", "");
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{wheel}");
    let (_, wheel) = page.ask("GET", "/api/wheel?spec=60-2", "");
    assert!(wheel["svg"].as_str().expect("a drawing").starts_with("<svg"));
}

#[test]
fn a_port_in_use_is_said_with_what_to_do() {
    let (_held, port) = listen(0).expect("a free port");
    let message = listen(port).expect_err("in use").to_string();
    assert!(message.contains(&port.to_string()) && message.contains("--port"), "{message}");
}
