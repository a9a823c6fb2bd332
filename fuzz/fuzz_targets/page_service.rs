//! A session of random requests to the page's service, as any program on this computer could send
//! them: addresses, queries, bodies, in any order, with the work of a run done or left undone.
#![no_main]

use camwitness::page::service::{Answer, Method, Reply, Service, Status, UploadLimit};
use libfuzzer_sys::fuzz_target;

/// Most requests of a session, and most bytes of one body: more is slow and finds little more.
const MOST_REQUESTS: usize = 24;
const MOST_BODY: usize = 20_000;
/// Largest upload, so that the limit is met as well.
const LIMIT: u64 = 16_000;

/// Addresses; `#` becomes a number, `?` a query of the input's own words.
const ADDRESSES: [&str; 30] = [
    "/",
    "/?",
    "/page.js",
    "/api/session",
    "/api/captures?name=c.csv",
    "/api/captures?",
    "/api/captures/#",
    "/api/demonstration/sound.csv",
    "/api/demonstration/bank2-late.csv",
    "/api/readings/#",
    "/api/engines",
    "/api/engines?",
    "/api/engines/form",
    "/api/engines/#",
    "/api/leads?",
    "/api/leads?capture=#&engine=0",
    "/api/leads?capture=#&engine=#",
    "/api/wheel?",
    "/api/wheel?wheel=36-2",
    "/api/runs",
    "/api/runs/#",
    "/api/runs/#/cancel",
    "/runs/#/report",
    "/runs/#/report.html",
    "/runs/#/result.json",
    "/runs/#/traces.svg",
    "/api/compare?",
    "/api/compare?before=#&after=#",
    "/compare/#/#/sheet.html",
    "/compare/#/#/result.json",
];

/// Bodies that are nearly right.
const BODIES: [&str; 6] = [
    include_str!("../../demo-data/engine.toml"),
    r#"{"capture":1,"engine":0}"#,
    r#"{"capture":2,"engine":0,"codes":["P0016"],"leads":[{"name":"crank","column":2}]}"#,
    "time (s),crank,B1 intake,B2 intake\n0,0,0,0\n0.01,1,0,0\n0.02,0,1,0\n0.04,1,1,0\n",
    "1.5,2\n2.5,3\n1.5,4\n",
    "{}",
];

fuzz_target!(|input: &[u8]| {
    let service = Service::new(UploadLimit { bytes: LIMIT, to_raise: "" });
    let mut rest = input;
    let mut undone = Vec::new();
    for _ in 0..MOST_REQUESTS {
        let [method, address, number, body, length, after @ ..] = rest else { break };
        let own = &after[..usize::from(*length).min(after.len())];
        rest = &after[own.len()..];
        let method = [Method::Get, Method::Post, Method::Delete][usize::from(*method) % 3];
        let words = String::from_utf8_lossy(own);
        let address = ADDRESSES[usize::from(*address) % ADDRESSES.len()]
            .replace('#', &number.to_string())
            .replace('?', &format!("?{}", words.replace('#', "")));
        let body = match usize::from(*body) {
            at if at < BODIES.len() => BODIES[at].as_bytes().to_vec(),
            at if at % 2 == 0 => own.to_vec(),
            at => changed(BODIES[at % BODIES.len()], own),
        };
        let Reply { answer, work } = ask(&service, method, &address, &body);
        hold(&answer);
        undone.extend(work);
        if number % 2 == 0
            && let Some(work) = undone.pop()
        {
            work.run();
        }
    }
});

/// A body with bytes of the input put over it.
fn changed(body: &str, own: &[u8]) -> Vec<u8> {
    let mut body = body.as_bytes().to_vec();
    for at in own.chunks_exact(2) {
        let place = usize::from(at[0]) % body.len();
        body[place] = at[1];
    }
    body
}

fn ask(service: &Service, method: Method, address: &str, body: &[u8]) -> Reply {
    let mut request = service.begin(method, address);
    for piece in body[..body.len().min(MOST_BODY)].chunks(1000) {
        if let Err(refusal) = request.take(piece) {
            return Reply { answer: Answer::from(refusal), work: None };
        }
    }
    service.ask(request)
}

/// What every answer promises: a body, and JSON where it says so.
fn hold(answer: &Answer) {
    assert!(answer.status == Status::Done || !answer.body.is_empty(), "a refusal without words");
    if answer.kind.starts_with("application/json") {
        assert!(std::str::from_utf8(&answer.body).is_ok(), "JSON is UTF-8");
    }
}
