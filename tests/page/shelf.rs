//! The page of the program itself: the shelf, and a folder that is watched.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use super::*;

/// The program's page, as a browser that has the key asks it.
struct Program {
    child: Child,
    port: u16,
    cookie: String,
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Program {
    fn new(shelf: &Path, watched: &Path) -> Program {
        let mut command = Command::new(env!("CARGO_BIN_EXE_camwitness"));
        Program::of(command.args(["page", "--no-browser", "--watch"]).arg(watched), shelf)
    }

    fn of(command: &mut Command, shelf: &Path) -> Program {
        let mut child = command
            .arg("--shelf")
            .arg(shelf)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program runs");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("its words"))
            .read_line(&mut line)
            .expect("a line");
        let address = line.split("http://127.0.0.1:").nth(1).expect("an address");
        let (port, rest) = address.split_once('/').expect("a port");
        let port = port.parse().expect("a number");
        let path = format!("/{}", rest.split(' ').next().expect("a path"));
        let mut program = Program { child, port, cookie: String::new() };
        let answer = program.raw("GET", &path, b"");
        let set =
            answer.lines().find_map(|line| line.strip_prefix("set-cookie: ")).expect("a cookie");
        program.cookie = set.split(';').next().expect("a cookie").to_owned();
        program
    }

    fn raw(&self, method: &str, path: &str, body: &[u8]) -> String {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).expect("it listens");
        let head = format!(
            "{method} {path} HTTP/1.1\r\nhost: 127.0.0.1:{}\r\nx-camwitness: 1\r\ncookie: {}\r\ncontent-length: {}\r\nconnection: close\r\n\r\n",
            self.port,
            self.cookie,
            body.len()
        );
        stream.write_all(head.as_bytes()).expect("sent");
        stream.write_all(body).expect("sent");
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).expect("an answer");
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn ask(&self, method: &str, path: &str, body: impl AsRef<[u8]>) -> (u16, Value) {
        let answer = self.raw(method, path, body.as_ref());
        let status = answer.split(' ').nth(1).and_then(|code| code.parse().ok()).expect("a status");
        let (_, body) = answer.split_once("\r\n\r\n").expect("a body");
        (status, serde_json::from_str(body).unwrap_or(Value::Null))
    }

    fn until(&self, what: &str, there: impl Fn(&Value) -> bool) -> Value {
        for _ in 0..1_200 {
            let (_, session) = self.ask("GET", "/api/session", "");
            if there(&session) {
                return session;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("{what} never comes")
    }
}

const BANK2_LATE: &[u8] = include_bytes!("../../demo-data/bank2-late.csv");

#[test]
fn the_shelf_is_used_from_the_page_and_a_watched_folder_is_judged() {
    let home = tempfile::tempdir().expect("a folder");
    let (shelf, watched) = (home.path().join("shelf"), home.path().join("scope"));
    std::fs::create_dir(&watched).expect("a folder");
    let page = Program::new(&shelf, &watched);
    let (_, list) = page.ask("GET", "/api/shelf", "");
    assert_eq!(list["engines"], json!([]), "{list}");
    let found =
        |text: &str| json!({"job": 1, "text": text, "right": true, "sound": false}).to_string();
    let (status, refused) = page.ask("POST", "/api/shelf/outcomes", found("x"));
    assert!(
        status == 422
            && refused["error"]
                .as_str()
                .is_some_and(|said| said.contains("Nothing is on the shelf yet")),
        "{refused}"
    );
    let (_, session) = page.ask("GET", "/api/session", "");
    let engine = session["engines"][0]["id"].clone();
    let keep = |name: &str, engine: &Value| {
        page.ask("POST", "/api/shelf/engines", json!({"engine": engine, "name": name}).to_string())
    };
    let (status, kept) = keep("Grey V6", &engine);
    assert_eq!((status, &kept["shelf"]), (200, &json!("Grey V6")), "{kept}");
    assert!(shelf.join("engines/Grey V6.toml").is_file());
    // Another engine of one name, and a name no file can have.
    let other = DEMO.replace("Demonstration V6", "Another V6");
    let (_, added) = page.ask("POST", "/api/engines?name=o.toml", other);
    let (status, refused) = keep("grey v6", &added["id"]);
    assert!(
        status == 422 && refused["error"].as_str().is_some_and(|said| said.contains("already")),
        "{refused}"
    );
    assert_eq!(keep("../x", &added["id"]).0, 422);
    // By name, as a tab does that opens later.
    let (_, taken) = page.ask("POST", "/api/shelf/engine", json!({"name": "grey v6"}).to_string());
    let engine = taken["id"].clone();
    assert!(engine.is_u64(), "{taken}");
    assert_eq!(page.ask("POST", "/api/shelf/engine", json!({"name": "gone"}).to_string()).0, 422);
    assert_eq!(page.ask("POST", "/api/watch", json!({"engine": engine}).to_string()).0, 200);
    // A scope saves it piece by piece.
    let file = watched.join("bank2-late.csv");
    std::fs::write(&file, &BANK2_LATE[..BANK2_LATE.len() / 2]).expect("half of it");
    std::thread::sleep(Duration::from_millis(300));
    std::fs::write(&file, BANK2_LATE).expect("all of it");
    let session = page.until("the finding", |session| session["runs"][0]["state"] == "done");
    let run = &session["runs"][0];
    assert_eq!(run["finding"]["state"], "jumped", "{run}");
    assert_eq!(session["runs"].as_array().map(Vec::len), Some(1), "the half was waited for");
    assert_eq!(std::fs::read(&file).expect("still there"), BANK2_LATE);
    assert_eq!(std::fs::read_dir(&watched).expect("listed").count(), 1);
    // Kept, opened, written down.
    let (status, job) = page.ask("POST", "/api/shelf/jobs", json!({"run": run["id"]}).to_string());
    assert_eq!((status, &job["job"]), (200, &json!(1)), "{job}");
    assert_eq!(
        std::fs::read(shelf.join("jobs/0001/bank2-late.csv")).expect("the capture"),
        BANK2_LATE
    );
    let (status, said) = page.ask("POST", "/api/shelf/outcomes", found("one tooth late"));
    assert!(
        status == 200 && said["said"].as_str().is_some_and(|said| said.contains("right")),
        "{said}"
    );
    let (_, jobs) = page.ask("GET", "/api/shelf/jobs", "");
    assert_eq!(
        (&jobs["jobs"][0]["was"], &jobs["jobs"][0]["finding"]),
        (&json!("right"), &json!("jumped"))
    );
    assert!(jobs["record"].to_string().contains("mostly those that were accused"), "{jobs}");
    let (_, likely) =
        page.ask("GET", &format!("/api/shelf/likely/{}", session["captures"][0]["id"]), "");
    assert_eq!(likely, json!(["Grey V6"]));
    // A job that does not read does not hide the others; no job, no words.
    std::fs::create_dir(shelf.join("jobs/0002")).expect("a folder");
    std::fs::write(shelf.join("jobs/0002/job.toml"), "broken [").expect("written");
    let (_, jobs) = page.ask("GET", "/api/shelf/jobs", "");
    assert_eq!(
        (jobs["count"].clone(), jobs["broken"].as_array().map(Vec::len)),
        (json!(1), Some(1))
    );
    let nobody = json!({"job": 9, "text": "x", "right": null}).to_string();
    assert_eq!(page.ask("POST", "/api/shelf/outcomes", nobody).0, 422);
    assert_eq!(page.ask("POST", "/api/shelf/outcomes", found(" ")).0, 422);
    // What was not confirmed as sound does not grow the known-good; what was, does.
    std::fs::write(shelf.join("shelf.toml"), "camwitness_shelf = 2\n").expect("newer");
    let (status, refused) = page.ask("GET", "/api/shelf", "");
    assert!(
        status == 422
            && refused["error"].as_str().is_some_and(|said| said.contains("newer program")),
        "{refused}"
    );
}

#[cfg(unix)]
#[test]
fn a_shelf_without_permission_is_said_on_the_page_and_the_page_goes_on() {
    use std::os::unix::fs::PermissionsExt;
    let home = tempfile::tempdir().expect("a folder");
    let shelf = home.path().join("shelf");
    std::fs::create_dir_all(shelf.join("engines")).expect("a folder");
    std::fs::write(shelf.join("shelf.toml"), "camwitness_shelf = 1\n").expect("its mark");
    std::fs::write(shelf.join("engines/grey.toml"), DEMO).expect("an engine");
    let allow = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("its mode");
    };
    let Some(mut command) = crate::cli::as_nobody(home.path()) else { return };
    for folder in [shelf.join("engines"), shelf.clone()] {
        allow(&folder, 0o555);
    }
    let page = Program::of(command.args(["page", "--no-browser"]), &shelf);
    let (_, session) = page.ask("GET", "/api/session", "");
    let engine = &session["engines"][0]["id"];
    let refused = |method: &str, path: &str, body: Value, part: &str| {
        let (status, answer) = page.ask(method, path, body.to_string());
        let said = answer["error"].as_str().unwrap_or_default();
        assert!(status == 422 && said.contains(part) && !said.contains("--"), "{path}: {answer}");
    };
    // What is there is used; what would be added is not.
    let (status, taken) =
        page.ask("POST", "/api/shelf/engine", json!({"name": "grey"}).to_string());
    assert_eq!(status, 200, "{taken}");
    let keep = || json!({"engine": engine, "name": "new"});
    refused("POST", "/api/shelf/engines", keep(), "may be written");
    let (_, capture) = page.ask("POST", "/api/captures?name=late.csv", BANK2_LATE);
    let asked = json!({"engine": engine, "capture": capture["id"]});
    let (_, run) = page.ask("POST", "/api/runs", asked.to_string());
    page.until("the finding", |session| session["runs"][0]["state"] == "done");
    refused("POST", "/api/shelf/jobs", json!({"run": run["id"]}), "may be written");
    allow(&shelf, 0o000);
    refused("GET", "/api/shelf", Value::Null, "may be read");
    refused("POST", "/api/shelf/engines", keep(), "may be read");
    assert_eq!(page.ask("GET", &format!("/api/runs/{}", run["id"]), "").0, 200, "it goes on");
    allow(&shelf, 0o755);
    assert_eq!(std::fs::read_dir(&shelf).expect("listed").count(), 2, "nothing was added");
}
