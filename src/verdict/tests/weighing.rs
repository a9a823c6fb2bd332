//! Variants weighed together, and without what cannot count, against each by itself and whole.

use super::bench::*;
use crate::cam::SwappedFit;
use crate::stats::log_sum;
use crate::units::CrankDelta;
use crate::verdict::hypotheses::{Variant, enumerate};
use crate::verdict::readings::Rows;
use crate::verdict::weighing::{instead, log_odds, log_odds_above};
use crate::verdict::{CompressionEvidence, TdcEvidence};

/// Holds the odds of every variant against those it has when it is factored by itself and every
/// term of it is worked out; what was replaced by a bound is not below what it is.
fn same_as_one_by_one(bench: &Bench) {
    let evidence = bench.evidence();
    let rows = Rows::new(&evidence, &[]);
    let crossed: Vec<Rows> =
        instead(&evidence).iter().map(|positions| Rows::new(&evidence, positions)).collect();
    let variants = enumerate(&evidence, &rows, &crossed).variants;
    let alone = |one: &Variant| {
        let one = std::slice::from_ref(one);
        log_odds_above(&evidence, one, (&rows, &crossed), f64::INFINITY)[0]
    };
    let alone: Vec<f64> = variants.iter().map(alone).collect();
    let together = log_odds(&evidence, &variants, &rows, &crossed);
    let total = log_sum(alone.iter().copied());
    assert!((log_sum(together.iter().copied()) - total).abs() < 1e-9);
    let mut bounds = 0;
    for (at, (&alone, &together)) in alone.iter().zip(&together).enumerate() {
        let odds = |log: f64| (log - total).exp();
        assert!((odds(alone) - odds(together)).abs() < 1e-12, "{at}: {alone} {together}");
        assert!(together > alone - 1e-9, "{at}: {alone} {together}");
        // Further down, bounds of single terms of its own show in it: those lie at 60 and below.
        if alone > total - 30.0 {
            assert!((together - alone).abs() < 1e-9, "{at}: {alone} {together}");
        } else if together > alone + 1e-6 {
            bounds += 1;
        }
    }
    assert!(bounds > 0 && bounds < variants.len(), "{bounds} of {}", variants.len());
}

/// So many cams of one wheel from one chain, every two of which fit each other's lead.
fn many(cams: usize, off: impl Fn(usize) -> f64) -> Bench {
    let (head, _) = V6.split_once("[[cam]]").expect("cams follow");
    let mut text = head.to_owned();
    for cam in 0..cams {
        let (bank, at) = (cam % 2 + 1, 137.0 + 7.0 * cam as f64);
        text += &format!(
            "[[cam]]\nname = \"C{cam}\"\nbank = {bank}\nshaft = \"single\"\nwheel = \"three-uneven\"\n\
             sensor = \"hall\"\nat = {at:.1}\nat_sd = 0.8\n"
        );
    }
    let on = |cam: usize| format!("{{ on = \"C{cam}\", teeth = 42 }}");
    let driven = (0..cams).map(on).collect::<Vec<_>>().join(", ");
    text += &format!(
        "[[chain]]\nname = \"main\"\nkind = \"chain\"\ndriver = {{ on = \"crank\", teeth = 21 }}\ndriven = [{driven}]\n"
    );
    let offs: Vec<f64> = (0..cams).map(off).collect();
    let mut bench = Bench::new(engine(&text), &offs);
    let seen = |bench: &Bench, cam: usize| bench.cams[cam].measured.position;
    let pairs = (0..cams).flat_map(|first| (first + 1..cams).map(move |second| (first, second)));
    bench.swapped = pairs
        .map(|cams| {
            // Each is read off the other's lead.
            let read = |cam, lead| position(&bench.engine, cam, seen(&bench, lead));
            SwappedFit { cams, positions: (read(cams.0, cams.1), read(cams.1, cams.0)) }
        })
        .collect();
    bench
}

#[test]
fn a_sound_engine() {
    same_as_one_by_one(&Bench::new(engine(V6), &[0.4, -0.8]));
}

#[test]
fn a_skip_with_a_cam_that_is_far_off_beside_it() {
    let mut bench = Bench::new(engine(V6), &[TOOTH + 0.3, 101.0]).confirmed();
    same_as_one_by_one(&bench);
    // And with one bank low, nobody knows which.
    bench.compression = Some(CompressionEvidence {
        difference: -0.15,
        sd: 0.01,
        per_degree: vec![-0.008, 0.008],
        expected: None,
        unnamed: true,
        turn_by_cams: false,
        stands_out: true,
    });
    same_as_one_by_one(&bench);
}

#[test]
fn phasers_and_a_scattered_cam() {
    let mut bench = Bench::new(four_cams(true), &[-19.8, 0.5, TOOTH - 0.4, 0.2]).scatter(2, 2.5);
    // Half a turn of the crank is open, and what top dead centre says.
    bench.crank.known_modulo = CrankDelta(180.0);
    bench.tdc = Some(TdcEvidence {
        off: CrankDelta(1.5),
        sd: CrankDelta(2.0),
        known_modulo: CrankDelta(120.0),
    });
    same_as_one_by_one(&bench);
}

#[test]
fn many_cams_whose_leads_may_be_crossed() {
    same_as_one_by_one(&many(5, |cam| if cam == 3 { TOOTH } else { 0.3 * cam as f64 - 0.6 }));
}
