//! Uploads: how far they are, and how they stop.

use super::*;

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
