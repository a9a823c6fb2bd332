//! What is typed in from a scan tool: weighed, listed, and refused in one plain message.

use crate::cli::{ENGINE, run, text};

fn check(more: &[&str]) -> (Option<i32>, String, String) {
    let all = [&["check", "demo-data/bank2-late.csv", "--engine", ENGINE][..], more].concat();
    let output = run(&all);
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn a_figure_that_cannot_be_is_refused_before_anything_is_measured() {
    // (arguments, part of the message)
    let rows: [(&[&str], &str); 8] = [
        (&["--phaser", "B3 intake=0"], "no cam is called"),
        (&["--phaser", "B1 intake"], "is not a cam and a number"),
        (&["--phaser", "B1 intake=rest"], "is not a cam and a number"),
        (&["--learned", "B1 intake=nan"], "is not a cam and a number"),
        (&["--learned", "B1 intake=-1.5", "--learned", "b1 intake=0"], "was given before"),
        (&["--learned", "B1 intake=400"], "is more than a cam can stand off by"),
        (&["--phaser", "=0"], "no cam is called"),
        (&["--codes", "0016"], "lacks the letter"),
    ];
    for (arguments, part) in rows {
        let (status, shown, error) = check(arguments);
        assert_eq!((status, shown.as_str()), (Some(1), ""), "{arguments:?}: {error}");
        assert!(error.contains(part) && error.lines().count() <= 3, "{arguments:?}: {error}");
    }
    let folder = crate::cli::folder();
    let engine = std::fs::read_to_string(ENGINE).expect("the demonstration");
    let none =
        engine.replace("phaser  = { rest = \"retarded\", travel = 46.0 }", "phaser = \"none\"");
    assert_ne!(none, engine);
    let path = crate::cli::write(folder.path(), "engine.toml", none);
    let output =
        run(&["check", "demo-data/sound.csv", "--engine", &path, "--phaser", "B2 intake=0"]);
    let error = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{error}");
    assert!(error.contains("describes no phaser on \"B2 intake\""), "{error}");
    let output = run(&["check", "demo-data/sound.csv", "--phaser", "B2 intake=0"]);
    assert!(text(&output.stderr).contains("go with an engine file"), "{}", text(&output.stderr));
}

#[test]
fn what_was_typed_in_is_listed_with_how_it_counts() {
    let typed = ["--phaser", "B1 intake=0", "--learned", "B2 intake=-1.5", "--after-repair"];
    let (_, shown, error) = check(&typed);
    let shown = shown.split_whitespace().collect::<Vec<_>>().join(" ");
    for wanted in [
        "Typed in beside the captures",
        "Phaser of B1 intake, by the controller: at rest",
        "Offset of B2 intake learned by the controller: 1.5° early",
        "After a repair",
    ] {
        assert!(shown.contains(wanted), "no \"{wanted}\" in {shown}{error}");
    }
    let (_, result, _) = check(&[&typed[..], &["--json", "-"]].concat());
    let result: serde_json::Value = serde_json::from_str(&result).expect("JSON");
    assert_eq!(result["controller"][0]["cam"], "B1 intake");
    assert_eq!(result["controller"][0]["phaser_deg"], 0.0);
    assert_eq!(result["controller"][1]["learned_deg"], -1.5);
    assert_eq!(result["after_repair"], true);
}
