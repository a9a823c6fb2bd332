//! The reader of lists of changes: text, and value change dumps.
#![no_main]

mod shared;

use camwitness::capture::{CaptureKind, ReadOptions, TimeUnit};
use camwitness::units::Seconds;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    let Some((&said, file)) = input.split_first() else { return };
    let options = ReadOptions {
        force_kind: (said & 0x01 == 0).then_some(CaptureKind::Events),
        time_unit: (said & 0x02 != 0).then_some(TimeUnit::Microseconds),
        from: (said & 0x04 != 0).then_some(Seconds(0.5)),
        to: (said & 0x08 != 0).then_some(Seconds(1.0)),
        limits: shared::limits(),
        ..ReadOptions::default()
    };
    shared::read_and_hold(file, &options);
});
