//! The form that writes an engine file.

use super::*;

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
    // Bank 1 straight from the crank with a second stage, bank 2 through an idler: each side has
    // its own step.
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
