//! The reader of text tables. The first byte chooses what the user may say beside the file.
#![no_main]

mod shared;

use camwitness::capture::{CaptureKind, ReadOptions, TimeUnit};
use camwitness::units::Seconds;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    let Some((&said, file)) = input.split_first() else { return };
    let options = ReadOptions {
        rate: (said & 0x01 != 0).then_some(1000.0),
        separator: (said & 0x02 != 0).then_some(';'),
        decimal: (said & 0x04 != 0).then_some(','),
        time_unit: (said & 0x08 != 0).then_some(TimeUnit::Milliseconds),
        force_kind: (said & 0x10 != 0).then_some(CaptureKind::Sampled),
        from: (said & 0x20 != 0).then_some(Seconds(0.002)),
        to: (said & 0x40 != 0).then_some(Seconds(0.01)),
        limits: shared::limits(),
        ..ReadOptions::default()
    };
    shared::read_and_hold(file, &options);
});
