//! What the page does beside measuring: without an engine, a part, joined, learned, practised.

use super::*;
use camwitness::practice::{Demonstration, ExtraLead};
use camwitness::units::Seconds;

/// A capture of the demonstration under the names a scope gives.
fn unnamed(which: Demonstration) -> String {
    let text = which.csv().expect("the demonstration");
    let (_, rest) = text.split_once('\n').expect("a header");
    format!(
        "time (s),Channel 1 (V),Channel 2 (V),Channel 3 (V),Channel 4 (A),Channel 5 (V)\n{rest}"
    )
}

fn engine_of(page: &Page) -> Value {
    page.ask("GET", "/api/session", "").1["engines"][0]["id"].clone()
}

fn upload(page: &Page, name: &str, text: String) -> Value {
    let (status, shown) = page.ask("POST", &format!("/api/captures?name={name}"), text);
    assert_eq!(status, StatusCode::OK, "{shown}");
    shown["id"].clone()
}

fn measured(page: &Page, asked: Value) -> Value {
    let (status, run) = page.ask("POST", "/api/runs", asked.to_string());
    assert_eq!(status, StatusCode::OK, "{run}");
    page.wait(&run["id"])
}

/// demo-data/README.md: B2 intake 17.32° late, and bank 2 low.
#[test]
fn without_an_engine_the_finding_comes_anyway() {
    let page = Page::new();
    let id = upload(&page, "car.csv", unnamed(Demonstration::Bank2Late));
    let (_, leads) = page.ask("GET", &format!("/api/leads?capture={id}"), "");
    let columns = leads["columns"].as_array().expect("columns");
    assert_eq!((&columns[0]["role"], &columns[0]["sure"]), (&json!("crank"), &json!(false)));
    // Two cams that look alike are left to the user.
    assert_eq!(columns[1]["role"], "");
    assert_eq!(columns[1]["open"], columns[2]["open"]);
    assert!(columns[1]["open"].as_array().is_some_and(|open| open.len() > 1), "{leads}");
    let named = ["crank", "B1 intake", "B2 intake", "starter", "ignition 3"];
    let lead = |(at, name): (usize, &str)| json!({"name": name, "column": at + 2});
    let leads: Vec<Value> = named.into_iter().enumerate().map(lead).collect();
    let facts = json!({"capture": id, "engine": null, "firing": "1-6-5-4-3-2", "banks": "1-2-3/4-5-6", "leads": leads});
    let run = measured(&page, facts.clone());
    let sentence = run["finding"]["sentence"].as_str().expect("a finding");
    assert_eq!(run["finding"]["state"], "cannot_tell", "{run}");
    assert!(sentence.contains("B2 intake 17.5° late against B1 intake"), "{sentence}");
    assert!(sentence.contains("The compression of bank 2 is"), "{sentence}");
    let notes = run["finding"]["notes"].to_string();
    assert!(notes.contains("known-good") && !notes.contains("--"), "{notes}");
    // Slips in the two fields stand at the field.
    for (firing, banks, field) in
        [("1-1-2", "", "firing"), ("1-2-3", "1-2/4", "banks"), ("", "1-2/3", "firing")]
    {
        let mut asked = facts.clone();
        (asked["firing"], asked["banks"]) = (json!(firing), json!(banks));
        let (status, refused) = page.ask("POST", "/api/runs", asked.to_string());
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
        assert_eq!(refused["fields"], json!([field]), "{refused}");
    }
}

#[test]
fn a_part_of_a_capture_is_what_a_reader_given_these_seconds_has() {
    let page = Page::new();
    let text = capture("");
    let id = upload(&page, "whole.csv", text.clone());
    let engine = engine_of(&page);
    let run = measured(&page, json!({"capture": id, "engine": engine, "from": "1", "to": "2,5"}));
    assert_eq!(run["state"], "done", "{run}");
    let (_, result) = page.ask("GET", &format!("/runs/{}/result.json", run["id"]), "");
    let options =
        ReadOptions { from: Some(Seconds(1.0)), to: Some(Seconds(2.5)), ..ReadOptions::default() };
    let read = read_bytes(text.as_bytes(), "whole.csv", &options).expect("a part");
    let demo = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
    let analysis = analyse(&[read], &demo, &Options::default()).expect("measured");
    let want: Value = serde_json::from_str(&camwitness::to_json(&analysis)).expect("JSON");
    assert_eq!(result["cams"], want["cams"]);
    assert_eq!(result["verdict"], want["verdict"]);
    for (from, to) in [("2", "1"), ("x", ""), ("90", "99")] {
        let asked = json!({"capture": id, "engine": engine, "from": from, "to": to}).to_string();
        let (status, refused) = page.ask("POST", "/api/runs", asked);
        let fields = if status == StatusCode::OK {
            page.wait(&refused["id"])["fields"].clone()
        } else {
            refused["fields"].clone()
        };
        assert_eq!(fields, json!(["stretch"]), "{from} to {to}: {refused}");
    }
}

#[test]
fn captures_are_joined_learned_from_and_practised_on() {
    let page = Page::new();
    let engine = engine_of(&page);
    let sound = upload(&page, "sound.csv", capture(""));
    let late = upload(&page, "sound.csv", capture("skip:B2 intake@primary:+1"));
    // Learned from a sound one, the known-good stands before the engine file.
    let learn = json!({"engine": engine, "captures": [sound]}).to_string();
    let (status, learned) = page.ask("POST", "/api/learn", learn);
    assert_eq!(status, StatusCode::OK, "{learned}");
    assert!(learned["file"].as_str().expect("a file").contains("B2 intake"), "{learned}");
    let run = measured(&page, json!({"capture": late, "engine": engine}));
    assert_eq!(run["finding"]["state"], "jumped");
    let (_, result) = page.ask("GET", &format!("/runs/{}/result.json", run["id"]), "");
    assert_eq!(result["cams"][0]["expected_from"], "known-good");
    // A faulty one is not learned from unasked, and the words are those of the page.
    let learn = json!({"engine": engine, "captures": [late]}).to_string();
    let (status, refused) = page.ask("POST", "/api/learn", learn);
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
    let message = refused["error"].as_str().expect("a message");
    assert!(message.contains("known to be sound") && !message.contains("--"), "{message}");
    assert_eq!(
        page.ask("POST", "/api/learn", json!({"engine": engine, "captures": []}).to_string()).0,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    let file = learned["file"].as_str().expect("a file").to_owned();
    assert_eq!(
        page.ask("DELETE", &format!("/api/engines/{engine}/known"), "").1["known"],
        Value::Null
    );
    let address = format!("/api/known?name=v6.known.toml&engine={engine}");
    assert_eq!(page.ask("POST", &address, file.clone()).1["known"], 1);
    assert_eq!(
        page.ask("POST", "/api/known?name=v6.known.toml&engine=999", file).0,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    // Joined: one has the crank and one cam, the other the crank and the other cam.
    let half = |cam: &str| {
        let demo = Engine::parse(DEMO, std::path::Path::new("engine.toml")).expect("sound");
        let sensors = Some(vec!["crank".to_owned(), cam.to_owned()]);
        let take = if cam == "B1 intake" { 1 } else { 2 };
        let scenario =
            Scenario { sensors, take, leads: vec![ExtraLead::Starter], ..Scenario::new(demo) };
        let made = generate(&scenario).expect("a capture");
        csv_text(&made.capture, &made.steps, Dialect::default()).expect("a dialect")
    };
    let (one, two) =
        (upload(&page, "one.csv", half("B1 intake")), upload(&page, "two.csv", half("B2 intake")));
    let run = measured(&page, json!({"capture": one, "join": [two], "engine": engine}));
    assert_eq!(run["finding"]["state"], "in_time", "{run}");
    assert_eq!(run["capture"], "one.csv and two.csv");
    // What the shown one's columns carry is said of the shown one: a column of the other whose
    // header is a lead's own name is that lead, wherever it stands.
    let crank_and = |cam: &str| json!([{"name": "crank", "column": 2}, {"name": cam, "column": 3}]);
    let cams = |run: &Value| {
        let lines = run["finding"]["cams"].as_array().expect("cams").iter();
        lines.map(|line| line["cam"].as_str().unwrap_or("").to_owned()).collect::<Vec<_>>()
    };
    let both = ["B1 intake", "B2 intake"];
    let asked =
        json!({"capture": one, "join": [two], "engine": engine, "leads": crank_and("B1 intake")});
    let run = measured(&page, asked);
    assert_eq!(
        (&run["finding"]["state"], cams(&run)),
        (&json!("in_time"), both.map(Into::into).into())
    );
    // Two channels, hooked up anew in between: the headers are alike and the cams are not. They are
    // of one name as well.
    let channels = |text: String| {
        let (_, rows) = text.split_once('\n').expect("a header");
        format!("time (s),Channel 1 (V),Channel 2 (V),Channel 3 (A)\n{rows}")
    };
    let (one, two) = (
        upload(&page, "scope.csv", channels(half("B1 intake"))),
        upload(&page, "scope.csv", channels(half("B2 intake"))),
    );
    let asked = json!({
        "capture": one, "join": [two], "engine": engine, "leads": crank_and("B1 intake"),
        "join_leads": [{"capture": two, "leads": crank_and("B2 intake")}],
    });
    let run = measured(&page, asked);
    assert_eq!(cams(&run), both, "{run}");
    assert_eq!(run["finding"]["state"], "in_time");
    // Never said of the second, it is hooked up like the first: one cam at two places is refused.
    let asked =
        json!({"capture": one, "join": [two], "engine": engine, "leads": crank_and("B1 intake")});
    let (_, begun) = page.ask("POST", "/api/runs", asked.to_string());
    let failed = page.wait(&begun["id"]);
    let message = failed["message"].as_str().unwrap_or_default();
    assert!(failed["state"] == "failed" && message.contains("apart in the two files"), "{failed}");
    // Practice: the capture and what was done to it, apart.
    let (_, faults) = page.ask("GET", &format!("/api/engines/{engine}/faults"), "");
    let skip = "skip:B2 intake@primary:+1";
    assert!(faults.as_array().expect("faults").iter().any(|one| one["fault"] == skip), "{faults}");
    let asked = json!({"engine": engine, "faults": skip, "seed": "3"}).to_string();
    let (status, made) = page.ask("POST", "/api/practice", asked);
    assert_eq!(status, StatusCode::OK, "{made}");
    assert!(
        !made["csv"].as_str().expect("text").contains("skip"),
        "the capture gives nothing away"
    );
    assert!(made["truth"].as_str().expect("text").contains("skip"), "the truth tells it");
    let run = measured(&page, json!({"capture": made["id"], "engine": engine}));
    assert_eq!(run["finding"]["state"], "jumped", "{run}");
    let (status, refused) = page.ask(
        "POST",
        "/api/practice",
        json!({"engine": engine, "faults": "skip:x"}).to_string(),
    );
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
    // The sheet.
    let (_, sheet) = page.ask("GET", &format!("/plan/{engine}?channels=2"), "");
    assert!(sheet.as_str().expect("HTML").contains("Hook-up sheet: Demonstration V6"));
    let (status, refused) = page.ask("GET", &format!("/plan/{engine}?channels=1"), "");
    let message = refused["error"].as_str().expect("a message");
    assert!(status == StatusCode::UNPROCESSABLE_ENTITY && !message.contains("--"), "{message}");
}

#[test]
fn a_place_that_is_typed_is_held_beside_what_was_measured_and_one_taken_over_judges_nothing() {
    let page = Page::new();
    let late = upload(&page, "late.csv", capture("skip:B2 intake@primary:+1"));
    let (_, shown) = page.ask("GET", &format!("/api/engines/{}", engine_of(&page)), "");
    assert!(shown["form"].is_null(), "what the form has no field for is edited as text: {shown}");
    let text = "name = \"V6\"\nfiring_order = [1, 6, 5, 4, 3, 2]\n[banks]\n1 = [1, 2, 3]\n2 = [4, 5, 6]\n[crank]\nwheel = \"36-2\"\nsensor = \"hall\"\nedge = \"falling\"\n\
        [[cam]]\nname = \"B1 intake\"\nbank = 1\nshaft = \"intake\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\nat = 31.0\n\
        [[cam]]\nname = \"B2 intake\"\nbank = 2\nshaft = \"intake\"\nwheel = \"three-uneven\"\nsensor = \"hall\"\n";
    let (status, engine) = page.ask("POST", "/api/engines?name=v6.toml", text);
    assert_eq!(status, StatusCode::OK, "{engine}");
    let mut form = engine["form"].clone();
    assert_eq!(form["cams"][0]["at"], "31", "{form}");
    let (status, places) =
        page.ask("POST", "/api/places", json!({"form": form, "capture": late}).to_string());
    assert_eq!(status, StatusCode::OK, "{places}");
    let at = |cam: usize| places[cam]["at"].as_f64().expect("measured");
    // A place far from what was measured is asked about, and a yes is taken.
    form["cams"][0]["at"] = json!(format!("{}", (at(0) + 40.0) % 720.0));
    let save = |form: &Value, more: Value| {
        let mut asked = form.clone();
        asked["capture"] = late.clone();
        for (key, value) in more.as_object().expect("an object") {
            asked[key] = value.clone();
        }
        page.ask("POST", "/api/engines/form", asked.to_string()).1
    };
    let answer = save(&form, json!({}));
    assert_eq!((&answer["asks"], &answer["field"]), (&json!(true), &json!("cam0_at")), "{answer}");
    assert!(answer["engine"].is_null());
    assert!(save(&form, json!({"insisted": true}))["engine"]["id"].is_u64());
    // Taken over, the place of this very capture is no reference for it.
    form["cams"][0]["at"] = json!(format!("{}", at(0)));
    form["cams"][1]["at"] = json!(format!("{}", at(1)));
    let answer = save(&form, json!({"taken": ["B1 intake", "B2 intake"]}));
    let engine = answer["engine"]["id"].clone();
    assert!(engine.is_u64(), "{answer}");
    let run = measured(&page, json!({"capture": late, "engine": engine}));
    assert_ne!(
        run["finding"]["state"], "in_time",
        "a jumped capture is never in time by itself: {run}"
    );
    assert_ne!(run["finding"]["state"], "jumped", "{run}");
    assert!(run["finding"]["notes"].to_string().contains("B2 intake is not judged"), "{run}");
    // For another capture it is a place like any other.
    let again = upload(&page, "again.csv", capture("skip:B2 intake@primary:+1"));
    let run = measured(&page, json!({"capture": again, "engine": engine}));
    assert!(!run["finding"]["notes"].to_string().contains("not judged"), "{run}");
}

#[test]
fn what_a_file_leaves_open_is_asked_for_by_its_field() {
    let page = Page::new();
    // (file, field that is asked for, what mends it); times without a unit, commas everywhere.
    let rows = (0..60).map(|row| format!("{}\t{}\n", row * 20, row % 7)).collect::<String>();
    let rows = [
        (format!("time\tcrank\n{rows}"), "time_unit", "us"),
        ("crank,cam\n1.5,2\n2.5,3\n1.5,4\n".to_owned(), "rate", "1000"),
    ];
    for (text, field, value) in rows {
        let (status, refused) = page.ask("POST", "/api/captures?name=open.csv", text.clone());
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
        assert!(refused["fields"].as_array().expect("fields").contains(&json!(field)), "{refused}");
        let message = refused["error"].as_str().expect("a message");
        assert!(
            message.contains("“Read again”")
                && !message.contains("--")
                && !message.contains("terminal"),
            "{message}"
        );
        let (status, shown) =
            page.ask("POST", &format!("/api/captures?name=open.csv&{field}={value}"), text);
        assert_eq!(status, StatusCode::OK, "{shown}");
    }
    let (status, refused) = page.ask("POST", "/api/captures?name=o.csv&decimal=dot", capture(""));
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{refused}");
}

#[test]
fn what_appears_in_a_watched_folder_is_judged_with_the_engine_chosen() {
    let most = UploadLimit { bytes: MOST, to_raise: "" };
    let watching = Some("scope".to_owned());
    let page = Page::of(Service::with(Setup { watching, ..Setup::alone(most) }));
    let engine = engine_of(&page);
    // Before an engine is chosen it is read and waits.
    assert!(page.service.appeared("first.csv", "", capture("").as_bytes()).is_none());
    assert_eq!(
        page.ask("POST", "/api/watch", json!({"engine": engine}).to_string()).0,
        StatusCode::OK
    );
    let work =
        page.service.appeared("late.csv", "", capture("skip:B2 intake@primary:+1").as_bytes());
    work.expect("an engine is chosen").run();
    assert!(page.service.appeared("bad.csv", "", b"time,crank\n0,x\n").is_none());
    // Columns nobody has named are not guessed.
    assert!(
        page.service.appeared("car.csv", "", unnamed(Demonstration::Sound).as_bytes()).is_none()
    );
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["captures"].as_array().map(Vec::len), Some(3), "{session}");
    assert_eq!(session["runs"][0]["finding"]["state"], "jumped");
    assert_eq!(session["runs"][0]["watched"], true);
    let refused = session["watched"]["refused"].to_string();
    assert!(
        refused.contains("bad.csv") && refused.contains("car.csv: which column is the crank"),
        "{refused}"
    );
    // As they were said of one capture, they are read in those that follow.
    let car = session["captures"][2]["id"].clone();
    let named = ["crank", "B1 intake", "B2 intake", "starter"].into_iter().enumerate();
    let leads: Vec<Value> =
        named.map(|(at, name)| json!({"name": name, "column": at + 2})).collect();
    let chosen = json!({"engine": engine, "capture": car, "leads": leads}).to_string();
    assert_eq!(page.ask("POST", "/api/watch", chosen).0, StatusCode::OK);
    page.service
        .appeared("next.csv", "", unnamed(Demonstration::Bank2Late).as_bytes())
        .expect("work")
        .run();
    let (_, session) = page.ask("GET", "/api/session", "");
    assert_eq!(session["runs"][1]["finding"]["state"], "jumped", "{session}");
    assert_eq!(
        page.ask("POST", "/api/watch", json!({"engine": 999}).to_string()).0,
        StatusCode::NOT_FOUND
    );
}
