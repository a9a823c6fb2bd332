//! The JSON of a result: every key that scripts rely on, and none that nobody was told of.

use crate::cli::{ENGINE, json};

#[test]
fn the_result_has_the_keys_of_the_contract_and_no_others() {
    let result = json(&[
        "check",
        "demo-data/bank2-late.csv",
        "--engine",
        ENGINE,
        "--codes",
        "P0018",
        "--json",
        "-",
    ]);
    let keys = |value: &serde_json::Value| -> Vec<String> {
        let mut keys: Vec<String> = value.as_object().expect("an object").keys().cloned().collect();
        keys.sort();
        keys
    };
    let check = |value: &serde_json::Value, wanted: &[&str]| {
        let mut wanted: Vec<String> = wanted.iter().map(|&key| key.to_owned()).collect();
        wanted.sort();
        assert_eq!(keys(value), wanted);
    };
    // The keys that scripts rely on; `marking_edge`, `polarity`, `missed`, `extra`, and what stands
    // in `compression` beyond the contract are ours beside them.
    check(
        &result,
        &[
            "format",
            "engine",
            "capture",
            "condition",
            "crank",
            "cams",
            "bank_differences",
            "compression",
            "pressure",
            "controller",
            "after_repair",
            "verdict",
            "does_not_fit",
            "provenance",
            "codes",
            "warnings",
            "cautions",
        ],
    );
    assert_eq!(result["format"], "camwitness-result/1");
    check(
        &result["provenance"],
        &[
            "version",
            "calibration",
            "captures",
            "engine_file",
            "options",
            "prior_odds",
            "places",
            "job",
        ],
    );
    check(
        &result["provenance"]["captures"][0],
        &["name", "sha256", "bytes", "recorded", "kind", "rows", "seconds", "rate", "columns"],
    );
    check(&result["provenance"]["captures"][0]["columns"][0], &["name", "unit", "resolution"]);
    check(
        &result["provenance"]["options"],
        &["leads", "codes", "code_evidence", "after_repair", "known_good"],
    );
    // The odds before anything was measured are odds of something that is one of them.
    let priors = result["provenance"]["prior_odds"].as_array().expect("a list");
    let sum: f64 = priors.iter().filter_map(|one| one["probability"].as_f64()).sum();
    assert!((sum - 1.0).abs() < 0.001, "{priors:?}");
    check(
        &result["condition"],
        &["state", "rpm_mean", "rpm_min", "rpm_max", "cycles", "seconds_used", "seconds_dropped"],
    );
    check(
        &result["crank"],
        &[
            "lead",
            "wheel",
            "confidence",
            "polarity",
            "marking_edge",
            "known_modulo_deg",
            "teeth_seen",
            "missed",
            "extra",
        ],
    );
    check(
        &result["cams"][0],
        &[
            "cam",
            "bank",
            "shaft",
            "lead",
            "polarity",
            "cycles",
            "position_deg",
            "expected_deg",
            "expected_from",
            "deviation_deg",
            "ci95_deg",
            "cycle_sd_deg",
            "known_modulo_deg",
            "step_deg",
            "nearest_teeth",
            "nearest_links",
            "left_over_deg",
            "edges",
            "missed",
            "extra",
        ],
    );
    check(&result["cams"][0]["edges"][0], &["kind", "at_deg", "off_deg", "sd_deg", "n"]);
    check(&result["bank_differences"][0], &["cams", "difference_deg", "ci95_deg"]);
    check(
        &result["compression"],
        &[
            "from",
            "cylinders",
            "banks",
            "bank_difference",
            "cycles",
            "named_by",
            "agreement",
            "expected_difference",
            "tdc_off_deg",
            "angle_from",
            "finding",
        ],
    );
    assert_eq!(result["compression"]["agreement"], "agrees");
    check(
        &result["compression"]["bank_difference"],
        &["low_bank", "relative", "ci95", "cylinders_agreeing", "of"],
    );
    check(
        &result["verdict"],
        &[
            "state",
            "probability",
            "teeth",
            "links",
            "on",
            "chain",
            "moves",
            "places",
            "covers",
            "covers_every_cam",
            "questions",
            "answers",
            "sentence",
            "explanations",
            "next_test",
            "code_evidence",
            "contradictions",
        ],
    );
    check(
        &result["verdict"]["explanations"][0],
        &["kind", "on", "chain", "teeth", "links", "moves", "probability", "why"],
    );
    check(
        &result["verdict"]["places"][0],
        &["on", "chain", "teeth", "links", "moves", "probability"],
    );
    check(
        &result["verdict"]["questions"],
        &["skipped", "drive_due", "recorded_cams_in_place", "describes_this_engine"],
    );
    check(&result["verdict"]["answers"][0], &["question", "answer", "probability", "why"]);
    assert_eq!(result["verdict"]["links"], 1);
    assert_eq!(result["verdict"]["covers"], serde_json::json!(["B1 intake", "B2 intake"]));
    check(&result["codes"][0], &["code", "explained", "why"]);
    let total: f64 = result["verdict"]["explanations"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| one["probability"].as_f64().expect("a number"))
        .sum();
    assert!((total - 1.0).abs() < 1e-6, "probabilities sum to {total}");
}

/// A transducer in a plug hole: its part says what it shows, with intervals, and where top dead
/// centre of its cylinder stands, which the engine file puts at 86° for cylinder 1.
#[test]
fn a_pressure_lead_fills_its_part() {
    let folder = crate::cli::folder();
    let out = folder.path().join("pressure.csv").display().to_string();
    let practice = ["practice", "--engine", ENGINE, "--with", "pressure 1", "--out", &out];
    let output = crate::cli::run(&practice);
    assert_eq!(output.status.code(), Some(0), "{}", crate::cli::text(&output.stderr));
    let result = json(&["check", &out, "--engine", ENGINE, "--json", "-"]);
    let pressure = result["pressure"].as_array().expect("a list");
    assert_eq!(pressure.len(), 1, "{pressure:?}");
    let part = &pressure[0];
    assert_eq!(part["cylinder"], 1);
    assert!(part["cycles"].as_u64().is_some_and(|cycles| cycles >= 3), "{part}");
    let number = |key: &str| part[key].as_f64().unwrap_or_else(|| panic!("{key}: {part}"));
    // Within three of the degree to which the loss angle is known (docs/sources.md, "Signals").
    assert!(number("tdc_off_deg").abs() < 3.0, "{part}");
    assert!((number("tdc_deg") - number("tdc_off_deg") - 86.0).abs() < 0.2, "{part}");
    for (key, interval) in [("tdc_off_deg", "tdc"), ("intake_closes_deg", "intake_closes")] {
        let ends: Vec<f64> = part["ci95_deg"][interval]
            .as_array()
            .unwrap_or_else(|| panic!("{interval}: {part}"))
            .iter()
            .filter_map(serde_json::Value::as_f64)
            .collect();
        assert!(ends.len() == 2 && ends[0] < ends[1], "{part}");
        assert!(key == "tdc_off_deg" || (ends[0]..=ends[1]).contains(&number(key)), "{part}");
    }
}
