//! Who is answered, and what is refused in plain words.

use super::*;

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
    // What a field of the page mends is said with that field, and in no option of a command line.
    let untimed = "crank,cam\n1.5,2\n2.5,3\n1.5,4\n";
    let (_, answer) = page.ask("POST", "/api/captures?name=u.csv", untimed);
    let message = answer["error"].as_str().expect("a message");
    assert_eq!(answer["fields"], json!(["rate"]), "{answer}");
    assert!(message.contains("“Read again”") && !message.contains("--"), "{message}");
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["captures"].as_array().expect("captures").len(), 0);
    assert_eq!(session["engines"].as_array().expect("engines").len(), 1, "the demonstration's");
}

#[test]
fn a_port_in_use_is_said_with_what_to_do() {
    let (_held, port) = listen(0).expect("a free port");
    let refused = listen(port).expect_err("in use");
    assert!(refused.complaint().contains(&port.to_string()), "{refused}");
    assert!(refused.remedies().contains(&Remedy::Change(Setting::Port)), "{refused:?}");
}
