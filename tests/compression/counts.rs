//! Counting over many engines: which seeds, and what a count says of a share.
//!
//! The usual run takes a few engines. `CAMWITNESS_COMPRESSION_ENGINES=300 cargo test --test
//! pipeline compression:: -- --ignored --nocapture` takes so many others and prints the counts.

use camwitness::compression::Source;

/// The sources, best first.
pub const SOURCES: [Source; 3] =
    [Source::StarterCurrent, Source::BatteryVoltage, Source::CrankSpeed];
/// Engines of the usual run.
const FEW: u64 = 24;
/// The long run's seeds start so far beyond those of the usual one.
const LONG_RUN_FROM: u64 = 100_000;

/// Seeds of a run: the usual few, or as many others as were asked for.
pub fn seeds(base: u64) -> std::ops::Range<u64> {
    let asked = std::env::var("CAMWITNESS_COMPRESSION_ENGINES").ok();
    match asked.and_then(|count| count.parse::<u64>().ok()) {
        Some(count) => base + LONG_RUN_FROM..base + LONG_RUN_FROM + count,
        None => base..base + FEW,
    }
}

/// 95 % interval of a share from a count: Wilson's, without continuity correction.
pub fn wilson(count: usize, of: usize) -> (f64, f64) {
    let (z, n) = (1.959_964_f64, of as f64);
    let p = count as f64 / n;
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    (middle - half, middle + half)
}

/// A count in words, with its interval.
pub fn share(count: usize, of: usize) -> String {
    let (low, high) = wilson(count, of);
    format!("{count} of {of} (95 %: {:.1} to {:.1} %)", low * 100.0, high * 100.0)
}

#[test]
fn the_interval_of_a_share_is_wilsons() {
    // Checked with statsmodels' formula by hand for 5 of 50: 4.35 % to 21.36 % (Newcombe 1998 gives
    // the method).
    let (low, high) = wilson(5, 50);
    assert!((low - 0.0435).abs() < 1e-4 && (high - 0.2136).abs() < 1e-4, "{low} {high}");
}
