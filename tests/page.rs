//! The page over its own router: who is answered, what is refused, and the whole walk.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode};
use camwitness::analysis::{AnalysisError, Options, analyse};
use camwitness::capture::{CaptureError, ReadOptions, read_bytes};
use camwitness::engine::Engine;
use camwitness::page::server::{Key, listen, router, serve};
use camwitness::page::service::{Service, UploadLimit};
use camwitness::practice::{DecimalMark, Dialect, Scenario, Separator, csv_text, generate};
use camwitness::remedy::{Mend, Remedy, Setting};
use camwitness::watch::Watch;
use http_body_util::BodyExt;
use serde_json::{Value, json};
use tower::ServiceExt;

const PORT: u16 = 4000;
const DEMO: &str = include_str!("../demo-data/engine.toml");
/// Uploads of the tests stay under this; the refused one passes it.
const MOST: u64 = 4_000_000;

fn service(bytes: u64) -> Service {
    Service::new(UploadLimit { bytes, to_raise: "start the page for larger ones" })
}

struct Page {
    service: Service,
    runtime: tokio::runtime::Runtime,
}

impl Page {
    fn new() -> Page {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        Page { service: service(MOST), runtime: runtime.expect("a runtime") }
    }

    fn send(&self, request: Request<Body>) -> Response<Body> {
        self.runtime
            .block_on(router(self.service.clone(), PORT, None).oneshot(request))
            .expect("an answer")
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
    let ask = json!({"capture": shown["id"], "engine": engine, "codes": ["P0018"], "job": {"number": "<b>7"}});
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
fn leads_are_suggested_by_name_and_never_dealt_out() {
    let page = Page::new();
    let (_, session) = page.ask("GET", "/api/session", "");
    let engine = session["engines"][0]["id"].clone();
    let suggested = |text: String| -> Vec<(String, bool, usize)> {
        let (status, shown) = page.ask("POST", "/api/captures?name=c.csv", text);
        assert_eq!(status, StatusCode::OK, "{shown}");
        let address = format!("/api/leads?capture={}&engine={engine}", shown["id"]);
        let (status, leads) = page.ask("GET", &address, "");
        assert_eq!(status, StatusCode::OK, "{leads}");
        let lead = |one: &Value| {
            let open = one["open"].as_array().expect("a list").len();
            let role = one["role"].as_str().expect("a role").to_owned();
            (role, one["sure"] == true, open)
        };
        leads.as_array().expect("a list").iter().map(lead).collect()
    };
    let named = capture("");
    let row = |role: &str, sure, open| (role.to_owned(), sure, open);
    assert_eq!(
        suggested(named.clone()),
        [
            row("crank", true, 0),
            row("B1 intake", true, 0),
            row("B2 intake", true, 0),
            row("starter", true, 0)
        ]
    );
    // The same signals under names that say nothing: which cam is which stays open.
    let (header, rest) = named.split_once('\n').expect("a header");
    let mut number = 0;
    let cells = header.split(',').map(|cell| {
        number += 1;
        match cell.split_once(" (") {
            Some((_, unit)) if number > 1 => format!("Channel {} ({unit}", number - 1),
            _ => cell.to_owned(),
        }
    });
    let unnamed = format!("{}\n{rest}", cells.collect::<Vec<_>>().join(","));
    assert_eq!(
        suggested(unnamed),
        [row("crank", false, 0), row("", false, 2), row("", false, 2), row("starter", false, 0)]
    );
    let (status, _) = page.ask("GET", "/api/leads?capture=999&engine=999", "");
    assert_eq!(status, StatusCode::NOT_FOUND);
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
    before_and_after(&page, &ids[0], &ids[1]);
    assert_eq!(page.ask("DELETE", &format!("/api/captures/{}", first["id"]), "").0, StatusCode::OK);
    let ask = json!({"capture": first["id"], "engine": engine}).to_string();
    assert_eq!(page.ask("POST", "/api/runs", ask).0, StatusCode::NOT_FOUND);
    assert_eq!(page.wait(&ids[0])["state"], "done", "its result stays");
}

/// A tooth late before, in time after: what `compare` says, on the page.
fn before_and_after(page: &Page, before: &Value, after: &Value) {
    let compare = |before: &Value, after: &Value, more: &str| {
        page.ask("GET", &format!("/api/compare?before={before}&after={after}{more}"), "")
    };
    let (status, found) = compare(before, after, "");
    assert_eq!(
        (status, &found["table"]["outcome"]),
        (StatusCode::OK, &json!("all_back")),
        "{found}"
    );
    let cam = &found["table"]["cams"][0];
    assert!(cam["before"].as_str().expect("words").ends_with("late"), "{cam}");
    assert!(cam["moved"].as_str().expect("words").contains("1 tooth earlier"), "{cam}");
    // Swapped, it is doubted; insisted on, the repair has made it worse.
    let (_, swapped) = compare(after, before, "");
    assert_eq!((&swapped["wrong_way_round"], &swapped["table"]), (&json!(true), &Value::Null));
    let (_, worse) = compare(after, before, "&in_order=true");
    assert_eq!(worse["table"]["outcome"], "not_back", "{worse}");
    assert_eq!(compare(before, before, "").0, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(compare(before, &json!(999), "").0, StatusCode::NOT_FOUND);
    let base = format!("/compare/{before}/{after}/");
    let (_, sheet) = page.ask("GET", &format!("{base}sheet"), "");
    assert!(sheet.as_str().expect("HTML").contains("ALL BACK IN TOLERANCE"));
    let (_, file) = page.ask("GET", &format!("{base}comparison.json"), "");
    assert_eq!(file["outcome"], "all_back");
    assert_eq!(page.ask("GET", &format!("{base}other"), "").0, StatusCode::NOT_FOUND);
    // Two engines are two yardsticks.
    let other = DEMO.replace("Demonstration V6", "Another V6");
    let (_, engine) = page.ask("POST", "/api/engines?name=o.toml", other);
    let (_, shown) = page.ask("POST", "/api/captures?name=other.csv", capture(""));
    let ask = json!({"capture": shown["id"], "engine": engine["id"]}).to_string();
    let (_, run) = page.ask("POST", "/api/runs", ask);
    page.wait(&run["id"]);
    let (status, refused) = compare(before, &run["id"], "");
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused["error"].as_str().expect("a message").contains("Another V6"), "{refused}");
}

#[test]
fn reading_and_measuring_stop_when_asked_and_tell_their_share() {
    let text = capture("");
    let watch = Watch::new();
    let options = ReadOptions { watch: watch.clone(), ..ReadOptions::default() };
    let read = |options: &ReadOptions| read_bytes(text.as_bytes(), "c.csv", options);
    let captures = [read(&options).expect("it goes on")];
    assert!(watch.share() > 0.0 && watch.share() < 1.0, "the last block begins before the end");
    let engine = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
    let asked = Options { watch: watch.clone(), ..Options::default() };
    analyse(&captures, &engine, &asked).expect("it goes on");
    assert_eq!(watch.share(), 1.0, "every step was taken");
    watch.stop();
    assert!(matches!(read(&options), Err(CaptureError::Stopped(_))));
    assert!(matches!(analyse(&captures, &engine, &asked), Err(AnalysisError::Stopped(_))));
    // From a disk it stops as well.
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("c.csv"), &text).expect("written");
    let from_disk = camwitness::capture::read(&folder.path().join("c.csv"), &options);
    assert!(matches!(from_disk, Err(CaptureError::Stopped(_))));
}

/// The page as it is served, spoken to over a socket.
struct Served {
    port: u16,
}

impl Served {
    fn new(most: u64) -> Served {
        let (listener, port) = listen(0).expect("a free port");
        // It serves until the test program ends.
        std::thread::spawn(move || serve(listener, service(most), None));
        Served { port }
    }

    /// Sends the head of a request, and leaves the connection open for a body.
    fn begin(&self, head: &str, length: usize) -> TcpStream {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        let port = self.port;
        write!(
            stream,
            "{head} HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\nx-camwitness: 1\r\ncontent-length: {length}\r\nconnection: close\r\n\r\n"
        )
        .expect("sent");
        stream
    }

    fn end(mut stream: TcpStream) -> String {
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("an answer");
        answer
    }

    fn ask(&self, head: &str) -> String {
        Served::end(self.begin(head, 0))
    }

    /// Asks until the answer holds a part.
    fn wait(&self, head: &str, part: &str) -> String {
        for _ in 0..1_000 {
            let answer = self.ask(head);
            if answer.contains(part) {
                return answer;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        panic!("{head} never says {part}")
    }
}

#[test]
fn an_upload_tells_how_far_it_is_and_stops_when_asked_or_left() {
    let page = Served::new(MOST);
    let text = capture("");
    let (head, rest) = text.as_bytes().split_at(text.len() / 2);
    let mut upload = page.begin("POST /api/captures?name=long.csv&reading=77", text.len());
    upload.write_all(head).expect("sent");
    page.wait("GET /api/readings/77", "{\"share\":0.0}");
    assert!(page.ask("DELETE /api/readings/77").contains("200 OK"));
    upload.write_all(rest).expect("sent");
    let answer = Served::end(upload);
    assert!(answer.contains("422") && answer.contains("stopped"), "{answer}");
    page.wait("GET /api/readings/77", "{\"share\":null}");
    // A tab that is closed half-way.
    let mut upload = page.begin("POST /api/captures?name=long.csv&reading=78", text.len());
    upload.write_all(head).expect("sent");
    page.wait("GET /api/readings/78", "{\"share\":0.0}");
    drop(upload);
    page.wait("GET /api/readings/78", "{\"share\":null}");
    assert!(page.ask("GET /api/session").contains("\"captures\":[]"), "nothing is left behind");
}

#[test]
fn two_gigabytes_are_refused_before_they_are_sent() {
    let page = Served::new(MOST);
    // The head alone says how much would come; not a byte of it is sent.
    let answer =
        Served::end(page.begin("POST /api/captures?name=big.csv&reading=5", 2_000_000_000));
    assert!(
        answer.contains("413")
            && answer.contains("4 MB")
            && answer.contains("start the page for larger"),
        "{answer}"
    );
    assert!(page.ask("GET /api/readings/5").contains("{\"share\":null}"));
    assert!(page.ask("GET /api/session").contains("\"captures\":[]"));
}

#[test]
fn what_cannot_be_used_is_said_plainly() {
    let page = Page::new();
    let big = vec![b'1'; MOST as usize + 1];
    let bad = "time,crank\n0,1\n1,x\n";
    let stranger = DEMO.replace("three-uneven", "../../secret.toml");
    let rootless = DEMO.replace("teeth = 38", "teeth = 37");
    // (address, body, status, part of the message)
    let rows: [(&str, Vec<u8>, StatusCode, &str); 7] = [
        (
            "/api/captures?name=big.csv",
            big,
            StatusCode::PAYLOAD_TOO_LARGE,
            "start the page for larger",
        ),
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
    let sprocket = |on: &str, teeth: &str| json!({"on": on, "teeth": teeth});
    json!({"name": "From the form", "firing_order": "1-6-5-4-3-2", "bank1": "1 2 3", "bank2": "4, 5, 6",
           "crank_wheel": "36 without 35 36", "crank_sensor": "hall", "crank_edge": "falling", "tdc": "86",
           "tolerance": "", "cams": [
               {"name": "B1 intake", "bank": "1", "shaft": "intake", "same_as": "", "later": "", "sensor": "hall",
                "wheel": "0..30 90..150 250..265", "at": "137", "rest": "retarded", "travel": "46"},
               {"name": "B2 intake", "bank": "2", "shaft": "intake", "same_as": "B1 intake", "later": "360,0°", "sensor": "hall",
                "wheel": "", "at": "", "rest": "retarded", "travel": "46"}],
           "chains": [{"name": "primary", "kind": "chain", "driver": sprocket("crank", "19"),
                       "driven": [sprocket("B1 intake", "38"), sprocket("B2 intake", "38")]}]})
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
    // 137 + 360, as the same_as says.
    assert_eq!(engine.expected(1).map(|(at, _)| at.get()), Some(497.0));
    let (_, shown) =
        page.ask("POST", "/api/captures?name=c.csv", capture("skip:B1 intake@primary:+1"));
    let ask = json!({"capture": shown["id"], "engine": answer["engine"]["id"]}).to_string();
    let (_, run) = page.ask("POST", "/api/runs", ask);
    let run = page.wait(&run["id"]);
    assert_eq!(
        (&run["state"], &run["finding"]["state"]),
        (&json!("done"), &json!("jumped")),
        "{run}"
    );
}

#[test]
fn a_field_at_fault_is_named() {
    let page = Page::new();
    // (place in the form, value, the field named in the answer)
    let rows = [
        ("/name", "", "name"),
        ("/crank_wheel", "/etc/passwd", "crank_wheel"),
        ("/crank_wheel", "60-70", "crank_wheel"),
        ("/firing_order", "one", "firing_order"),
        ("/firing_order", "2-1-3-4-5-6", "firing_order"),
        ("/bank2", "2 4 7", "bank1"),
        ("/tdc", "x", "tdc"),
        ("/tdc", "400", "tdc"),
        ("/tolerance", "-1", "tolerance"),
        ("/cams/0/bank", "", "cam0_bank"),
        ("/cams/0/bank", "3", "cam0_bank"),
        ("/cams/0/travel", "999", "cam0_travel"),
        ("/cams/1/name", "B1 intake", "cam1_name"),
        ("/cams/1/later", "", "cam1_later"),
        ("/cams/1/same_as", "B3 intake", "cam1_same_as"),
        ("/cams/1/same_as", "", "cam1_wheel"),
        ("/chains/0/name", "", "chain0_name"),
        ("/chains/0/driver/teeth", "", "chain0_driver_teeth"),
        ("/chains/0/driver/on", "nowhere", "chain0_driver_on"),
        ("/chains/0/driven/1/on", "", "chain0_driven1_on"),
        ("/chains/0/driven/1/teeth", "0", "chain0_driven1_teeth"),
    ];
    for (place, value, named) in rows {
        let mut broken = form();
        *broken.pointer_mut(place).expect(place) = value.into();
        let (status, answer) = page.ask("POST", "/api/engines/form", broken.to_string());
        assert_eq!(
            (status, &answer["field"]),
            (StatusCode::OK, &json!(named)),
            "{place} = {value:?}: {answer}"
        );
        let message = answer["message"].as_str().expect("a message");
        assert!(message.len() > 10 && message.ends_with('.'), "{message}");
        assert!(!message.contains("line "), "a form has no lines: {message}");
        assert!(answer["engine"].is_null());
    }
    let mut ratio = form();
    ratio["chains"][0]["driven"][1]["teeth"] = "41".into();
    let (_, answer) = page.ask("POST", "/api/engines/form", ratio.to_string());
    assert!(answer["message"].as_str().expect("a message").contains("1/2"), "{answer}");
    let (status, wheel) = page.ask("GET", "/api/wheel?spec=%3Cscript%3E", "");
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{wheel}");
    let (_, wheel) = page.ask("GET", "/api/wheel?spec=60-2", "");
    assert!(wheel["svg"].as_str().expect("a drawing").starts_with("<svg"));
}

#[test]
fn the_form_describes_two_banks_with_their_own_chains() {
    let page = Page::new();
    let cam = |name: &str, bank: &str, shaft: &str, same_as: &str| {
        json!({"name": name, "bank": bank, "shaft": shaft, "same_as": same_as, "later": if same_as.is_empty() { "" } else { "0" },
               "sensor": "hall", "wheel": "4", "at": "", "rest": "retarded", "travel": ""})
    };
    let chain = |name: &str, from: (&str, &str), to: &[(&str, &str)]| {
        let sprocket = |&(on, teeth): &(&str, &str)| json!({"on": on, "teeth": teeth});
        json!({"name": name, "kind": "chain", "driver": sprocket(&from), "driven": to.iter().map(sprocket).collect::<Vec<Value>>()})
    };
    let mut v6 = form();
    v6["cams"] = json!([
        cam("B1 intake", "1", "intake", ""),
        cam("B1 exhaust", "1", "exhaust", ""),
        cam("B2 intake", "2", "intake", "B1 intake"),
        cam("B2 exhaust", "2", "exhaust", "B1 exhaust"),
    ]);
    // Bank 1 straight from the crank with a second stage, bank 2 through an idler: each side has its own step.
    v6["chains"] = json!([
        chain("primary 1", ("crank", "24"), &[("B1 intake", "48")]),
        chain("second 1", ("B1 intake", "30"), &[("B1 exhaust", "30")]),
        chain("primary 2", ("crank", "20"), &[("idler 2", "30")]),
        chain("bank 2", ("idler 2", "21"), &[("B2 intake", "28"), ("B2 exhaust", "28")]),
    ]);
    let (_, answer) = page.ask("POST", "/api/engines/form", v6.to_string());
    let text = answer["toml"].as_str().expect("a file");
    let engine = Engine::parse(text, std::path::Path::new("form.toml")).expect(text);
    let step = |cam: &str| {
        let chain = engine.drive.chain_driving(cam).expect("driven");
        engine.drive.chains[chain].step().0
    };
    // docs/sources.md, "Drives": 360 / (teeth · ratio to the crank). The idler turns at 20/30.
    for (cam, want) in [("B1 intake", 15.0), ("B1 exhaust", 24.0), ("B2 exhaust", 360.0 / 14.0)] {
        assert!((step(cam) - want).abs() < 1e-9, "{cam}: {}", step(cam));
    }
}

#[test]
fn a_port_in_use_is_said_with_what_to_do() {
    let (_held, port) = listen(0).expect("a free port");
    let refused = listen(port).expect_err("in use");
    assert!(refused.complaint().contains(&port.to_string()), "{refused}");
    assert!(refused.remedies().contains(&Remedy::Change(Setting::Port)), "{refused:?}");
}

#[test]
fn only_whoever_has_the_key_gets_in() {
    let page = Page::new();
    let key = Key::new().expect("a key");
    assert_ne!(key, Key::new().expect("another"), "two sessions have two keys");
    let address = key.address(PORT);
    let (_, secret) = address.split_once("?key=").expect("it is in the address");
    let ask = |method: &str, address: &str, headers: &[(&str, &str)]| {
        let mut request = Request::builder().method(method).uri(address);
        request = request.header("host", format!("127.0.0.1:{PORT}")).header("x-camwitness", "1");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let router = router(page.service.clone(), PORT, Some(key.clone()));
        let request = request.body(Body::empty()).expect("a request");
        page.runtime.block_on(router.oneshot(request)).expect("an answer")
    };
    let first = ask("GET", &format!("/?key={secret}"), &[("sec-fetch-site", "none")]);
    assert_eq!(first.status(), StatusCode::SEE_OTHER);
    assert_eq!(first.headers()["location"], "/", "the key leaves the address");
    assert_eq!(first.headers()["cross-origin-resource-policy"], "same-origin");
    let given = first.headers()["set-cookie"].to_str().expect("text").to_owned();
    assert!(given.contains("HttpOnly") && given.contains("SameSite=Strict"), "{given}");
    let cookie = given.split(';').next().expect("a cookie");
    let wrong = cookie.replace(secret, &"0".repeat(secret.len()));
    let other_port = cookie.replace(&PORT.to_string(), "4001");
    for address in ["/", "/api/session"] {
        let status = |headers: &[(&str, &str)]| ask("GET", address, headers).status();
        assert_eq!(status(&[("cookie", cookie)]), StatusCode::OK, "{address}");
        assert_eq!(status(&[("cookie", &format!("a=b; {cookie}"))]), StatusCode::OK, "{address}");
        assert_eq!(status(&[]), StatusCode::FORBIDDEN, "{address}");
        assert_eq!(status(&[("cookie", &wrong)]), StatusCode::FORBIDDEN, "{address}");
        assert_eq!(status(&[("cookie", &other_port)]), StatusCode::FORBIDDEN, "{address}");
        // Another page that sends the browser here, cookie and all.
        for from in ["cross-site", "same-site"] {
            let sent = [("cookie", cookie), ("sec-fetch-site", from)];
            assert_eq!(status(&sent), StatusCode::FORBIDDEN, "{address} {from}");
        }
    }
    // The key opens the door alone: it is no way to ask for anything else.
    let elsewhere = ask("GET", &format!("/api/session?key={secret}"), &[]);
    assert_eq!(elsewhere.status(), StatusCode::FORBIDDEN);
}
