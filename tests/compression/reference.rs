//! Orders, filter and peaks against SciPy: `fixtures/scipy_reference.py` made the values.

use camwitness::compression::{LowPass, low_pass, orders, peaks};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("fixtures/scipy_reference.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

#[test]
fn orders_are_numpys_rfft() {
    let reference = reference();
    let found = orders(&numbers(&reference["cycle"]));
    for want in reference["orders"].as_array().unwrap() {
        let order = want["order"].as_u64().unwrap() as usize;
        let got = found[order - 1];
        assert_eq!(got.order, order);
        assert!((got.amplitude - want["amplitude"].as_f64().unwrap()).abs() < 1e-9, "{got:?}");
        assert!((got.phase - want["phase"].as_f64().unwrap()).abs() < 1e-9, "{got:?}");
    }
    // What was put in, to within the noise of 1.5 over √360: order 6 of 20, order 1 of 4.
    assert!((found[5].amplitude - 20.0).abs() < 0.3 && (found[0].amplitude - 4.0).abs() < 0.3);
}

#[test]
fn the_filter_is_scipys_butterworth_both_ways() {
    let reference = reference();
    let filter = LowPass::new(2, reference["corner"].as_f64().unwrap()).unwrap();
    let smooth = filter.both_ways(&numbers(&reference["cycle"]));
    for (i, (got, want)) in smooth.iter().zip(numbers(&reference["smooth"])).enumerate() {
        assert!((got - want).abs() < 1e-7, "point {i}: {got}, want {want}");
    }
    assert_eq!(LowPass::new(2, 0.5), None);
    assert_eq!(LowPass::new(0, 0.1), None);
    assert_eq!(filter.both_ways(&[1.0, 2.0]), [1.0, 2.0], "too short to filter");
}

#[test]
fn peaks_are_scipys_by_prominence() {
    let reference = reference();
    let check = |series: &[f64], least: f64, want: &Value| {
        let found = peaks(series, least);
        let want = want.as_array().unwrap();
        assert_eq!(found.len(), want.len());
        for (got, want) in found.iter().zip(want) {
            assert_eq!(got.index as u64, want["index"].as_u64().unwrap());
            assert!(
                (got.prominence - want["prominence"].as_f64().unwrap()).abs() < 1e-6,
                "{got:?}"
            );
        }
    };
    check(&numbers(&reference["smooth"]), 8.0, &reference["peaks"]);
    // Rounded to whole numbers the series has flat tops.
    let rounded: Vec<f64> = numbers(&reference["cycle"]).iter().map(|v| v.round()).collect();
    check(&rounded, 3.0, &reference["raw_peaks"]);
}

#[test]
fn a_low_pass_by_orders_keeps_what_it_should() {
    let tone =
        |order: f64| move |i: usize| (order * std::f64::consts::TAU * i as f64 / 360.0).cos();
    let cycle: Vec<f64> = (0..360).map(|i| 5.0 + tone(6.0)(i) + tone(40.0)(i)).collect();
    for (i, value) in low_pass(&cycle, 18).iter().enumerate() {
        assert!((value - 5.0 - tone(6.0)(i)).abs() < 1e-9);
    }
    assert!(low_pass(&[], 3).is_empty() && orders(&[1.0]).is_empty());
}
