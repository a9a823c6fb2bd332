//! Words of faults.

use super::*;

#[test]
fn every_fault_reads_back_from_its_own_words() {
    let rows = [
        "skip:B1 intake@primary:+1",
        "skip:crank@primary:-2",
        "wear:primary:4.5",
        "worn-strand:primary:2:4.5",
        "phaser:B1 intake:-12",
        "phaser:B1 intake:-12:3",
        "crank-wheel:-6",
        "cam-wheel:B2: odd name:7",
        "damaged-tooth:B1 intake:2",
        "weak-cylinder:3:0.7",
        "dead-cylinder:3",
        "starved-cylinder:3:0.7",
        "multi-spark:ignition 3:4",
        "waste-spark:ignition 3",
        "clamp-offset:-40",
        "clamp-slow:30",
        "clamp-ac:1.5",
        "clamp-clipped:250",
        "clamp-volts:100",
        "crossed-leads:B1 intake:B2 intake",
        "reversed:crank",
        "missing-tooth:12",
        "weak-battery:7.5",
        "bounce:crank",
        "crosstalk:B1 intake",
        "flipping-output:crank",
    ];
    for words in rows {
        let fault: Fault = words.parse().expect(words);
        assert_eq!(fault.to_string(), words);
        assert!(
            FAULT_WORDS.iter().any(|(form, _)| form.split(':').next() == words.split(':').next())
        );
    }
    let wander: Fault = "phaser:B1 intake:-12:wander".parse().expect("wander");
    assert!(matches!(wander, Fault::Phaser { wander, .. } if wander == WANDER_DEG));
}

#[test]
fn unfinished_words_are_refused_with_the_form() {
    for words in [
        "skip:B1:1",
        "skip:a@b:x",
        "skip:a@b:0",
        "wear:primary",
        "worn-strand:primary:4",
        "worn-strand:primary:last:4",
        "phaser:",
        "slip:3",
        "crank-wheel:nan",
        "reversed",
        "missing-tooth:-1",
        "bounce:",
        "weak-cylinder:x:0.5",
        "dead-cylinder:",
        "multi-spark:ignition 3:many",
        "clamp-offset:",
    ] {
        let error = words.parse::<Fault>().expect_err(words);
        assert!(error.to_string().contains("Write it like"), "{error}");
    }
}
