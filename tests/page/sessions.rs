//! From a capture to its report, in one session with all its tabs.

use super::*;

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
        leads["columns"].as_array().expect("a list").iter().map(lead).collect()
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

/// The fields beside the capture: what a scan tool shows, and that the drive was put together.
#[test]
fn what_a_scan_tool_shows_is_weighed_and_listed() {
    let page = Page::new();
    let (_, shown) = page.ask("POST", "/api/captures?name=c.csv", capture(""));
    let (_, session) = page.ask("GET", "/api/session", "");
    let asked = |phasers: &[&str], learned: &[&str]| {
        json!({"capture": shown["id"], "engine": session["engines"][0]["id"], "phasers": phasers,
               "learned": learned, "after_repair": true})
        .to_string()
    };
    let ask = asked(&["B1 intake=0"], &["B2 intake=-1.5"]);
    let (status, run) = page.ask("POST", "/api/runs", ask);
    assert_eq!(status, StatusCode::OK, "{run}");
    assert_eq!(page.wait(&run["id"])["state"], "done");
    let base = format!("/runs/{}/", run["id"]);
    let (_, result) = page.ask("GET", &format!("{base}result.json"), "");
    let typed = &result["controller"];
    assert_eq!((&typed[0]["cam"], &typed[0]["phaser_deg"]), (&json!("B1 intake"), &json!(0.0)));
    assert_eq!((&typed[1]["cam"], &typed[1]["learned_deg"]), (&json!("B2 intake"), &json!(-1.5)));
    assert_eq!(result["after_repair"], true);
    let (_, report) = page.ask("GET", &format!("{base}report"), "");
    let report = report.as_str().expect("HTML");
    assert!(report.contains("Phaser of B1 intake") && report.contains("1.5° early"));
    // (phasers, learned, part of the message)
    let rows: [(&[&str], &[&str], &str); 3] = [
        (&["B3 intake=0"], &[], "no cam is called"),
        (&[], &["B1 intake"], "is not a cam and a number"),
        (&[], &["B1 intake=400"], "is more than a cam can stand off by"),
    ];
    for (phasers, learned, part) in rows {
        let (status, answer) = page.ask("POST", "/api/runs", asked(phasers, learned));
        assert!(status.is_client_error(), "{answer}");
        assert!(answer.to_string().contains(part), "{answer}");
    }
}
