//! What the cams say to a bank that is down.

use camwitness::compression::{Agreement, CamShift, CompressionInput, CompressionOutcome, measure};
use camwitness::engine::CamShaft;
use camwitness::units::CrankDelta;

use crate::bench::{Bench, Random, Teeth, WORKSHOP, amperes, clamp, marks};
use crate::engines::{TDC, engine};

/// A V6 whose bank 1 intake sensor reads `reads` late while its valves really close `late` later.
fn shifted(late: [f64; 2], reads: [f64; 2]) -> CompressionOutcome {
    let mut bench = Bench::even(6, TDC);
    bench.late = (0..6).map(|i| late[i % 2]).collect();
    let mut random = Random(77);
    let run = bench.crank();
    let teeth = Teeth { marks: marks(&run, 36, &[35, 36], WORKSHOP, &mut random), modulo: 360.0 };
    let (values, clock) = clamp(&run, WORKSHOP, &mut random);
    let shifts = [1, 2].map(|bank| CamShift {
        bank,
        shaft: CamShaft::Intake,
        deviation: CrankDelta(reads[bank as usize - 1]),
        sd: CrankDelta(0.3),
    });
    measure(&CompressionInput {
        engine: &engine(6),
        clock: &teeth,
        datum_offset: Some(CrankDelta(360.0)),
        starter: Some(amperes(&values, &clock)),
        battery: None,
        ignition: &[],
        pressure: &[],
        cam_shifts: &shifts,
    })
}

#[test]
fn a_cam_really_late_agrees_and_a_moved_wheel_contradicts() {
    // (valves late by bank, sensors read, agreement, alike)
    let rows = [
        ([17.1, 0.0], [17.1, 0.0], Agreement::Agrees, false),
        ([0.0, 0.0], [17.1, 0.0], Agreement::Contradicts, false),
        ([0.0, 0.0], [0.0, 0.0], Agreement::Silent, false),
        ([17.1, 17.1], [17.1, 17.1], Agreement::Silent, true),
        ([17.1, 0.0], [0.0, 0.0], Agreement::OtherCause, false),
    ];
    for (late, reads, agreement, alike) in rows {
        let outcome = shifted(late, reads);
        let evidence = outcome.evidence.expect("two banks by name");
        println!("{late:?} {reads:?} {evidence:?}");
        assert_eq!(evidence.agreement, agreement, "{late:?} {reads:?}");
        assert_eq!(evidence.all_banks_alike, alike);
        let difference = outcome.measured.unwrap().bank_difference.unwrap();
        if late[0] > 0.0 && late[1] == 0.0 {
            assert_eq!(difference.low_bank, Some(1));
            assert_eq!((difference.agree, difference.of), (3, 3));
        } else {
            assert_eq!(difference.low_bank, None);
        }
    }
}
