//! The service of the page without a server: another carrier finds all of it.

use camwitness::capture::CaptureKind;
use camwitness::engine::Engine;
use camwitness::page::service::{
    Answer, CarriedShelf, Method, Reply, Service, Setup, Status, UploadLimit, read_engine,
};
use camwitness::practice::{Dialect, Scenario, csv_text, generate};
use camwitness::shelf::{Packed, Shelf};
use serde_json::{Value, json};

const DEMO: &str = include_str!("../demo-data/engine.toml");
const MOST: u64 = 4_000_000;

fn service() -> Service {
    Service::new(UploadLimit { bytes: MOST, to_raise: "" })
}

fn reply(service: &Service, method: Method, address: &str, body: &[u8]) -> Reply {
    let mut request = service.begin(method, address);
    for piece in body.chunks(10_000) {
        if let Err(refusal) = request.take(piece) {
            return Reply { answer: Answer::from(refusal), work: None };
        }
    }
    service.ask(request)
}

fn ask(service: &Service, method: Method, address: &str, body: &[u8]) -> (Status, Value) {
    let answer = reply(service, method, address, body).answer;
    (answer.status, serde_json::from_slice(&answer.body).unwrap_or(Value::Null))
}

fn capture() -> String {
    let engine = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
    let scenario = Scenario { kind: CaptureKind::Events, leads: vec![], ..Scenario::new(engine) };
    let made = generate(&scenario).expect("a practice capture");
    csv_text(&made.capture, &made.steps, Dialect::default()).expect("a dialect")
}

/// A session with one measurement begun: its number, and the work.
fn begun(service: &Service) -> (Value, Reply) {
    let (status, shown) =
        ask(service, Method::Post, "/api/captures?name=c.csv", capture().as_bytes());
    assert_eq!(status, Status::Done, "{shown}");
    let (_, session) = ask(service, Method::Get, "/api/session", b"");
    let asked = json!({"capture": shown["id"], "engine": session["engines"][0]["id"]});
    let reply = reply(service, Method::Post, "/api/runs", asked.to_string().as_bytes());
    let run: Value = serde_json::from_slice(&reply.answer.body).expect("JSON");
    (run["id"].clone(), reply)
}

#[test]
fn a_carrier_without_threads_measures_and_reads_the_report() {
    let service = service();
    let (id, reply) = begun(&service);
    let state = || ask(&service, Method::Get, &format!("/api/runs/{id}"), b"").1["state"].clone();
    assert_eq!(state(), "working", "nothing is done before the carrier does it");
    reply.work.expect("work").run();
    assert_eq!(state(), "done");
    let read =
        |name: &str| self::reply(&service, Method::Get, &format!("/runs/{id}/{name}"), b"").answer;
    let (shown, saved) = (read("report"), read("report.html"));
    assert_eq!((shown.kind, shown.sealed, shown.save_as), ("text/html; charset=utf-8", true, None));
    assert_eq!((saved.sealed, saved.save_as.as_deref()), (false, Some("report.html")));
    assert_eq!(shown.body, saved.body);
    let result: Value = serde_json::from_slice(&read("result.json").body).expect("JSON");
    assert_eq!(result["verdict"]["state"], "in_time");
    assert!(read("traces.png").body.starts_with(b"\x89PNG"));
    assert_eq!(read("../../etc/passwd").status, Status::Missing);
}

#[test]
fn a_session_begun_anew_goes_by_the_numbers_of_the_one_before() {
    let service = service();
    service.count_from(40);
    let mut request = service.begin(Method::Post, "/api/captures?name=c.csv");
    assert!(request.take_all(vec![b'1'; MOST as usize + 1]).is_err());
    request.take_all(capture().into_bytes()).expect("small enough");
    let shown: Value = serde_json::from_slice(&service.ask(request).answer.body).expect("JSON");
    assert_eq!(shown["id"], 40);
    assert_eq!(ask(&service, Method::Get, "/api/captures/40", b"").0, Status::Done);
}

#[test]
fn the_demonstration_is_read_as_its_files_are() {
    let service = service();
    let file = include_bytes!("../demo-data/bank2-late.csv");
    let (_, mut given) =
        ask(&service, Method::Post, "/api/captures?name=bank2-late.csv", &file[..]);
    let (status, mut made) = ask(&service, Method::Post, "/api/demonstration/bank2-late.csv", b"");
    assert_eq!(status, Status::Done);
    assert_ne!(given["id"].take(), made["id"].take());
    assert_eq!(given, made);
    let (status, _) = ask(&service, Method::Post, "/api/demonstration/other.csv", b"");
    assert_eq!(status, Status::Missing);
}

#[test]
fn cancelled_work_ends_without_a_result() {
    let service = service();
    let (id, reply) = begun(&service);
    let (_, run) = ask(&service, Method::Delete, &format!("/api/runs/{id}/cancel"), b"");
    assert_eq!(run["state"], "cancelled");
    reply.work.expect("work").run();
    let (_, run) = ask(&service, Method::Get, &format!("/api/runs/{id}"), b"");
    assert_eq!((&run["state"], &run["finding"]), (&json!("cancelled"), &Value::Null));
    let (status, _) = ask(&service, Method::Get, &format!("/runs/{id}/report"), b"");
    assert_eq!(status, Status::Missing);
}

#[test]
fn what_is_too_large_or_makes_no_sense_is_one_plain_message() {
    let service = service();
    assert!(service.begin(Method::Post, "/api/captures?name=c.csv").expect(MOST + 1).is_err());
    assert!(service.begin(Method::Post, "/api/captures?name=c.csv").expect(MOST).is_ok());
    let long = vec![b'1'; MOST as usize + 1];
    // (method, address, body, how it ends, part of the message)
    let rows: [(Method, &str, &[u8], Status, &str); 8] = [
        (
            Method::Post,
            "/api/captures?name=c.csv",
            &long,
            Status::TooLarge,
            "Export a shorter capture",
        ),
        (Method::Post, "/api/runs", &long, Status::TooLarge, "larger than 1 MB"),
        (Method::Post, "/api/captures?rate=x", b"1", Status::Unusable, "number above 0"),
        (Method::Post, "/api/captures?rate=0", b"1", Status::Unusable, "number above 0"),
        (Method::Post, "/api/runs", b"{", Status::Unusable, "cannot be read"),
        (Method::Get, "/api/runs/x", b"", Status::Missing, "no such number"),
        (Method::Get, "/api/nothing", b"", Status::Missing, "no such address"),
        (Method::Get, "/../Cargo.toml", b"", Status::Missing, "no such address"),
    ];
    for (method, address, body, status, part) in rows {
        let (got, value) = ask(&service, method, address, body);
        let message = value["error"].as_str().unwrap_or_default();
        assert_eq!(got, status, "{address}: {value}");
        assert!(message.contains(part) && message.ends_with('.'), "{address}: {message}");
    }
}

/// A session whose shelf is in memory.
fn with_a_shelf() -> Service {
    let alone = Setup::alone(UploadLimit { bytes: MOST, to_raise: "" });
    Service::with(Setup { shop: Some(std::sync::Arc::new(CarriedShelf::default())), ..alone })
}

fn post(service: &Service, address: &str, asked: &Value) -> (Status, Value) {
    ask(service, Method::Post, address, asked.to_string().as_bytes())
}

/// A shelf with an engine, a job of it that was found sound, and so a known-good; as one file.
fn filled(service: &Service) -> Vec<u8> {
    let (_, shown) = ask(service, Method::Post, "/api/captures?name=c.csv", capture().as_bytes());
    let (_, session) = ask(service, Method::Get, "/api/session", b"");
    let engine = json!({"engine": session["engines"][0]["id"], "name": "Grey V6"});
    let (status, kept) = post(service, "/api/shelf/engines", &engine);
    assert_eq!((status, &kept["shelf"]), (Status::Done, &json!("Grey V6")), "{kept}");
    let asked = json!({"capture": shown["id"], "engine": kept["id"]});
    let begun = reply(service, Method::Post, "/api/runs", asked.to_string().as_bytes());
    begun.work.expect("work").run();
    let run: Value = serde_json::from_slice(&begun.answer.body).expect("JSON");
    let (status, job) = post(service, "/api/shelf/jobs", &json!({"run": run["id"]}));
    assert_eq!((status, &job["job"]), (Status::Done, &json!(1)), "{job}");
    let found =
        json!({"job": 1, "text": "covers off: marks stood right", "right": null, "sound": true});
    let (_, said) = post(service, "/api/shelf/outcomes", &found);
    let said = said["said"].as_str().expect("words");
    assert!(said.contains("the finding was right") && said.contains("rests on 1 engine"), "{said}");
    let saved = reply(service, Method::Get, "/shelf/camwitness-shelf.tar.gz", b"").answer;
    assert_eq!(saved.save_as.as_deref(), Some("camwitness-shelf.tar.gz"));
    saved.body.into_owned()
}

#[test]
fn a_shelf_without_a_computer_is_carried_as_one_file() {
    let first = with_a_shelf();
    let file = filled(&first);
    let second = with_a_shelf();
    let (status, said) = ask(&second, Method::Post, "/api/shelf/file", &file);
    assert_eq!(status, Status::Done, "{said}");
    let said = said["said"].as_str().expect("words").to_owned();
    assert!(said.starts_with("Added: 1 engine, 1 known-good, 1 job."), "{said}");
    for address in ["/api/shelf", "/api/shelf/jobs"] {
        let [there, here] = [&first, &second].map(|one| ask(one, Method::Get, address, b"").1);
        assert_eq!(there, here, "{address}");
    }
    let (_, taken) = post(&second, "/api/shelf/engine", &json!({"name": "grey v6"}));
    assert_eq!((&taken["name"], &taken["known"]), (&json!("Demonstration V6"), &json!(1)));
    let (_, again) = ask(&second, Method::Post, "/api/shelf/file", &file);
    assert_eq!(
        again["said"],
        "Added: 0 engines, 0 known-goods, 0 jobs. What was there is there still."
    );
    // What is no shelf, and another engine of the name.
    let (status, refused) = ask(&second, Method::Post, "/api/shelf/file", b"time,crank\n");
    assert!(
        status == Status::Unusable && refused["error"].to_string().contains("no shelf"),
        "{refused}"
    );
    let (_, session) = ask(&second, Method::Get, "/api/session", b"");
    let changed = DEMO.replace("Demonstration V6", "Other V6");
    let (_, other) = ask(&second, Method::Post, "/api/engines?name=o.toml", changed.as_bytes());
    let (status, refused) =
        post(&second, "/api/shelf/engines", &json!({"engine": other["id"], "name": "GREY V6"}));
    assert!(
        status == Status::Unusable && refused["error"].to_string().contains("another name"),
        "{refused} {session}"
    );
}

#[test]
fn the_shelf_of_a_page_and_of_a_computer_are_the_same_file() {
    let page = with_a_shelf();
    let file = filled(&page);
    let home = tempfile::tempdir().expect("a folder");
    let shelf = Shelf::open_or_begin(&home.path().join("shelf")).expect("a shelf");
    let (new, left) = shelf.add(Packed::read(&file).expect("a shelf"), read_engine).expect("added");
    assert_eq!((new.jobs.len(), left), (1, vec![]));
    let job = shelf.job(1).expect("a job");
    let copy = std::fs::read_to_string(&shelf.captures(&job)[0]).expect("its capture");
    assert_eq!(copy, capture());
    assert!(job.kept.shelf_engine.as_deref() == Some("Grey V6") && job.outcomes.len() == 1);
    assert_eq!(shelf.packed().expect("read").write().expect("packed"), file);
    let (again, left) =
        shelf.add(Packed::read(&file).expect("a shelf"), read_engine).expect("added");
    assert_eq!((again, left), (Packed::default(), vec![]));
    // A later outcome on the tablet comes to the job that is here already.
    let found = json!({"job": 1, "text": "not confirmed after all", "right": false});
    assert_eq!(post(&page, "/api/shelf/outcomes", &found).0, Status::Done);
    let later = reply(&page, Method::Get, "/shelf/camwitness-shelf.tar.gz", b"").answer.body;
    shelf.add(Packed::read(&later).expect("a shelf"), read_engine).expect("added");
    assert_eq!(shelf.job(1).expect("a job").outcomes.len(), 2);
    assert_eq!(shelf.jobs().expect("jobs").jobs.len(), 1);
}
