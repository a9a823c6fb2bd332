//! Closed forms against SciPy; the values come from tests/reference/closed_forms.py.

use crate::verdict::density::log_normal_between;
use crate::verdict::factored::{Out, Seen, Split, Without};
use crate::verdict::hypotheses::{EffectPrior, Model};
use crate::verdict::likelihood::{Models, Worths};
use crate::verdict::readings::{Row, RowKind, Rows};

fn close(name: &str, got: f64, want: f64, within: f64) {
    assert!((got - want).abs() < within, "{name}: want {want}, got {got}");
}

#[test]
fn normal_with_an_even_amount() {
    let rows = [
        (-50.0, -5.0, -30.0, 1.5, -3.8066624897703196),
        (-50.0, -5.0, -2.0, 1.5, -7.589846823452351),
        (0.0, 50.0, 52.0, 2.0, -5.75304465043741),
        (5.0, 12.0, 30.0, 1.2, -118.07729499476702),
    ];
    for (from, to, x, s, want) in rows {
        let got = EffectPrior::Even { from, to }.log_density(x, s);
        close(&format!("even {from}..{to} at {x}"), got, want, 1e-7);
    }
}

#[test]
fn normal_with_a_fading_amount() {
    let rows = [
        (5.0, 14.0, 4.0, 9.0, 1.5, -2.2157325886654338),
        (0.0, 5.0, 2.0, -1.0, 1.0, -2.6884410982429294),
        (0.0, 14.0, 4.0, 22.0, 1.7, -18.34998900487175),
        (0.0, 14.0, 4.0, -6.0, 1.0, -22.13128928087268),
    ];
    for (from, to, mean, x, s, want) in rows {
        let got = EffectPrior::Fading { from, to, mean }.log_density(x, s);
        close(&format!("fading {from}..{to} at {x}"), got, want, 1e-7);
    }
}

#[test]
fn probability_between_two_places_far_out() {
    // Beyond 25 standard deviations the Mills ratio is used, good to 1/z².
    let rows = [
        (-1.0, 1.0, -0.3817151463021261, 1e-9),
        (5.0, 6.0, -15.068446096529454, 1e-7),
        (-9.0, -8.0, -35.01361859343716, 1e-7),
        (30.0, 31.0, -454.3212439563433, 2e-3),
        (-3.0, 40.0, -0.0013508099647481925, 1e-9),
    ];
    for (low, high, want, within) in rows {
        close(&format!("{low}..{high}"), log_normal_between(low, high), want, within);
    }
}

fn log_likelihood(rows: &Rows, model: &Model) -> f64 {
    let worths = [(0.0, Worths::new(rows, &[]))];
    Models::like(rows, model).log_likelihood(&model.mean, &worths, f64::NEG_INFINITY)
}

/// Three cams with errors of their own and two shared ones; no outliers, one pass.
fn three(readings: [f64; 3]) -> Rows {
    let mut rows = Rows::bare();
    for (cam, (reading, variance)) in readings.into_iter().zip([1.2, 0.8, 2.0]).enumerate() {
        rows.list.push(Row {
            kind: RowKind::Cam(cam),
            reading,
            period: Some(720.0),
            variance,
            outlier: 0.0,
            misregistered: 0.0,
            outlier_density: 1.0 / 720.0,
            unreferenced: None,
        });
    }
    rows.shared = vec![(vec![1.0; 3], 1.5), (vec![0.0, 1.0, 1.0], 0.7)];
    rows
}

#[test]
fn joint_density_of_correlated_readings() {
    let rows = three([1.0, -2.0, 3.5]);
    close("still", log_likelihood(&rows, &Model::still(&rows)), -10.060203606445619, 1e-9);
    let mut model = Model::still(&rows);
    model.shared = Some((vec![1.0, 0.0, 1.0], EffectPrior::Even { from: 0.0, to: 20.0 }));
    close("shared amount", log_likelihood(&rows, &model), -7.740381287427121, 1e-7);
}

#[test]
fn joint_density_with_an_amount_of_one_row() {
    let rows = three([-20.0, 1.0, 3.5]);
    let mut model = Model::still(&rows);
    model.own = vec![(0, vec![(1.0, EffectPrior::Even { from: -30.0, to: -5.0 })])];
    close("own amount", log_likelihood(&rows, &model), -7.730056154483105, 1e-7);
    model.shared = Some((vec![1.0; 3], EffectPrior::Fading { from: 0.0, to: 14.0, mean: 4.0 }));
    // Simpson's rule over the shared amount, so less than exact.
    close("own and shared", log_likelihood(&rows, &model), -7.824963502168436, 1e-3);
}

#[test]
fn without_a_row_is_the_same_as_never_having_had_it() {
    let rows = three([1.0, -2.0, 3.5]);
    let own = vec![(0, vec![(0.6, EffectPrior::Even { from: -30.0, to: -5.0 })])];
    let shared = (vec![1.0, 0.0, 0.5], EffectPrior::Fading { from: 0.0, to: 14.0, mean: 4.0 });
    for model in [
        Model::still(&rows),
        Model { shared: Some(shared.clone()), ..Model::still(&rows) },
        Model { own: own.clone(), ..Model::still(&rows) },
        Model { own, shared: Some(shared), ..Model::still(&rows) },
    ] {
        let left = [1.0, -2.0, 3.5];
        let of = |split: &Split, out| {
            let seen = Seen::new(split, &left);
            let without = Without::new(&rows, split, out);
            without.density(&rows, &model, split, (&left, &seen), f64::NEG_INFINITY)
        };
        let whole = Split::new(&rows, &model, &[]).expect("positive");
        for row in 0..3 {
            let never = Split::new(&rows, &model, &[row]).expect("positive");
            let out = whole.out(row, &[None; 3]).expect("no anchor");
            close("without", of(&whole, out), of(&never, Out::Nothing), 1e-11);
        }
        // Others are unwrapped about an anchor: it cannot be taken out like that.
        assert!(whole.out(1, &[Some(1), None, None]).is_none());
    }
}
