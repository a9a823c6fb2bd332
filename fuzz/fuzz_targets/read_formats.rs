//! WAV, NumPy and packed files. The first byte says whether the rate is given and the mark of which
//! format is put in front, so that the search need not find it.
#![no_main]

mod shared;

use camwitness::capture::ReadOptions;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    let Some((&said, file)) = input.split_first() else { return };
    let options = ReadOptions {
        rate: (said & 0x01 != 0).then_some(1000.0),
        limits: shared::limits(),
        ..ReadOptions::default()
    };
    let mark: &[u8] = match said >> 1 & 0x03 {
        1 => b"\x93NUMPY\x01\x00",
        2 => b"RIFF\xff\xff\xff\x7fWAVEfmt ",
        3 => b"PK\x03\x04",
        _ => b"",
    };
    shared::read_and_hold(&[mark, file].concat(), &options);
});
