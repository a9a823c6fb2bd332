//! What every reader target holds a capture to.

use camwitness::capture::{Capture, Clock, Limits, ReadOptions, read_bytes_described};

/// Small limits: a fuzz input is small, and what it claims to unpack to must not cost the machine.
pub fn limits() -> Limits {
    Limits { held_bytes: 1 << 24, values: 1 << 22, ..Limits::default() }
}

/// Reads, and holds a capture that was read to what `Capture` promises.
pub fn read_and_hold(bytes: &[u8], options: &ReadOptions) {
    match read_bytes_described(bytes, "input", options) {
        Ok((capture, _)) => keeps_promises(&capture),
        Err(error) => {
            let text = error.to_string();
            assert!(text.starts_with("input") && !text.contains(char::is_control), "{text:?}");
        }
    }
}

fn keeps_promises(capture: &Capture) {
    let rows = capture.rows();
    assert!(!capture.channels.is_empty() && rows >= 2);
    match &capture.clock {
        Clock::Uniform { start, step } => {
            assert!(start.0.is_finite() && step.0.is_finite() && step.0 > 0.0);
            assert!(capture.clock.at(rows - 1).0.is_finite());
        }
        Clock::Stamped(stamps) => {
            assert_eq!(stamps.len(), rows);
            assert!(stamps.iter().all(|stamp| stamp.is_finite()));
            assert!(stamps.windows(2).all(|pair| pair[0] < pair[1]));
        }
    }
    for channel in &capture.channels {
        assert!(!channel.name.contains(char::is_control), "{:?}", channel.name);
        assert_eq!(channel.values.len(), rows);
        assert!(channel.values.iter().all(|value| value.is_finite()));
        assert!(channel.over_range.iter().all(|&(from, to)| from < to && to <= rows));
    }
}
