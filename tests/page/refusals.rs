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
    assert_eq!(answer["fields"], json!(["rate", "time"]), "{answer}");
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
