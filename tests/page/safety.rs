//! What keeps others out, and one capture from taking everything.

use super::*;

fn set_up(memory: u64) -> Page {
    let most = UploadLimit { bytes: MOST, to_raise: "" };
    Page::of(Service::with(Setup { memory, draw: Some(number), ..Setup::alone(most) }))
}

#[test]
fn numbers_cannot_be_guessed_and_results_and_engines_can_be_removed() {
    let page = set_up(1_000_000_000);
    let (_, first) = page.ask("POST", "/api/captures?name=a.csv", capture(""));
    let (_, second) = page.ask("POST", "/api/captures?name=a.csv&came=10:42:07", capture(""));
    let id = |shown: &Value| shown["id"].as_u64().expect("a number");
    assert!(id(&first).abs_diff(id(&second)) > 1_000, "{} {}", first["id"], second["id"]);
    assert!(id(&first) < 1 << 53 && id(&second) < 1 << 53, "a browser holds it exactly");
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["captures"][1]["more"], "10:42:07", "same names are told apart by time");
    let engine = session["engines"][0]["id"].clone();
    let ask = json!({"capture": first["id"], "engine": engine}).to_string();
    let (_, run) = page.ask("POST", "/api/runs", ask);
    assert_eq!(page.wait(&run["id"])["state"], "done");
    let gone = |address: String| {
        assert_eq!(page.ask("DELETE", &address, "").0, StatusCode::OK, "{address}");
        assert_eq!(page.ask("GET", &address, "").0, StatusCode::NOT_FOUND, "{address}");
        assert_eq!(page.ask("DELETE", &address, "").0, StatusCode::NOT_FOUND, "{address}");
    };
    gone(format!("/api/engines/{engine}"));
    assert_eq!(page.wait(&run["id"])["state"], "done", "its result stays");
    gone(format!("/api/runs/{}", run["id"]));
    gone(format!("/api/captures/{}", first["id"]));
}

#[test]
fn captures_leave_oldest_first_and_say_so() {
    let text = capture("");
    // 60 000 rows of four channels are 960 kB: four fit, five do not.
    let page = set_up(4_500_000);
    for name in ["one.csv", "two.csv", "three.csv", "four.csv", "five.csv"] {
        let address = format!("/api/captures?name={name}");
        let (status, shown) = page.ask("POST", &address, text.clone());
        assert_eq!(status, StatusCode::OK, "{shown}");
    }
    let (_, session) = page.ask("GET", "/api/session", "");
    let names: Vec<&Value> =
        session["captures"].as_array().expect("captures").iter().map(|one| &one["name"]).collect();
    assert_eq!(names, ["two.csv", "three.csv", "four.csv", "five.csv"]);
    assert_eq!(session["left"], json!(["one.csv"]));
    // What would not fit while it is measured is refused, with the field that mends it; the page
    // goes on.
    let page = set_up(text.len() as u64 + 100_000);
    let (_, shown) = page.ask("POST", "/api/captures?name=one.csv", text);
    let (_, session) = page.ask("GET", "/api/session", "");
    let ask = json!({"capture": shown["id"], "engine": session["engines"][0]["id"]});
    let (status, refused) = page.ask("POST", "/api/runs", ask.to_string());
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
    assert_eq!(refused["fields"], json!(["stretch"]));
    assert_eq!(page.ask("GET", "/api/session", "").0, StatusCode::OK);
}

#[test]
fn whoever_begins_a_request_and_does_not_go_on_is_let_go() {
    let (listener, port) = listen(0).expect("a free port");
    let patience = Duration::from_millis(200);
    std::thread::spawn(move || serve_within(listener, service(MOST), None, patience));
    let mut stream = TcpStream::connect(("127.0.0.1", port)).expect("it listens");
    write!(stream, "GET / HTTP/1.1\r\nhost: ").expect("sent");
    let mut rest = Vec::new();
    stream.set_read_timeout(Some(Duration::from_secs(20))).expect("a time");
    // Closed, with or without a word.
    let ended = stream.read_to_end(&mut rest);
    assert!(
        ended.is_ok()
            || ended.is_err_and(|error| error.kind() == std::io::ErrorKind::ConnectionReset)
    );
    assert!(!String::from_utf8_lossy(&rest).contains("200 OK"));
}
