//! A small generator of random numbers whose bytes never change between versions.
//!
//! The same seed must give the same capture for ever, so the algorithm is written out here:
//! xoshiro256++ 1.0 by D. Blackman and S. Vigna (2019), its state filled by SplitMix64, as
//! its authors advise.

/// Offset basis and prime of the 64-bit FNV-1a hash, which gives every stream its own start.
const FNV_OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
const FNV_PRIME: u64 = 0x0000_0100_0000_01b3;

/// One stream of random numbers.
#[derive(Debug, Clone)]
pub(super) struct Random {
    state: [u64; 4],
    spare: Option<f64>,
}

/// One step of SplitMix64: moves the state on and returns the output.
fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut mixed = *state;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    mixed ^ (mixed >> 31)
}

impl Random {
    /// The stream called `stream` of a seed. Streams of different names do not
    /// depend on each other, so that more noise does not give another engine.
    pub(super) fn new(seed: u64, stream: &str) -> Self {
        let name = stream
            .bytes()
            .fold(FNV_OFFSET, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(FNV_PRIME));
        let mut filler = seed ^ name;
        Self { state: std::array::from_fn(|_| split_mix(&mut filler)), spare: None }
    }

    /// The next 64 bits (xoshiro256++).
    fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let shifted = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= shifted;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Even over 0 up to but not including 1.
    pub(super) fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Even over `low` up to `high`.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Normal with mean 0 and standard deviation 1 (Marsaglia's polar method).
    pub(super) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (self.between(-1.0, 1.0), self.between(-1.0, 1.0));
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let scale = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(y * scale);
                return x * scale;
            }
        }
    }

    /// Times of events that come at `per_second` on average over `seconds`, growing.
    pub(super) fn arrivals(&mut self, per_second: f64, seconds: f64) -> Vec<f64> {
        let mut times = Vec::new();
        if per_second <= 0.0 {
            return times;
        }
        let mut at = 0.0;
        loop {
            at -= (1.0 - self.uniform()).ln() / per_second;
            if at >= seconds {
                return times;
            }
            times.push(at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn split_mix_gives_its_published_first_outputs() {
        // Reference outputs of splitmix64.c for the seed 1234567, from memory.
        let mut state = 1_234_567;
        let got: Vec<u64> = (0..3).map(|_| split_mix(&mut state)).collect();
        let want =
            [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423];
        assert_eq!(got, want);
    }

    #[test]
    fn xoshiro_gives_its_published_first_outputs() {
        // xoshiro256plusplus.c with the state 1, 2, 3, 4: the first outputs, from memory, and
        // the first by hand: rotl(1 + 4, 23) + 1 = 5 · 2^23 + 1.
        let mut random = Random { state: [1, 2, 3, 4], spare: None };
        let got: Vec<u64> = (0..4).map(|_| random.bits()).collect();
        assert_eq!(got, [41_943_041, 58_720_359, 3_588_806_011_781_223, 3_591_011_842_654_386]);
    }

    #[test]
    fn normal_numbers_have_mean_0_and_sd_1() {
        let mut random = Random::new(7, "test");
        let n = 100_000;
        let drawn: Vec<f64> = (0..n).map(|_| random.normal()).collect();
        let mean = drawn.iter().sum::<f64>() / f64::from(n);
        let square = drawn.iter().map(|x| x * x).sum::<f64>() / f64::from(n);
        // Standard errors are 0.003 and 0.0045: four of each.
        assert!(mean.abs() < 0.013, "{mean}");
        assert!((square - 1.0).abs() < 0.018, "{square}");
        // 4.55 % lie beyond two standard deviations (normal table); standard error 0.07 %.
        let beyond = drawn.iter().filter(|x| x.abs() > 2.0).count();
        assert!((beyond as f64 / f64::from(n) - 0.0455).abs() < 0.003, "{beyond}");
    }

    #[test]
    fn streams_differ_and_repeat() {
        let first = |seed, name| Random::new(seed, name).bits();
        assert_eq!(first(1, "noise"), first(1, "noise"));
        assert_ne!(first(1, "noise"), first(1, "engine"));
        assert_ne!(first(1, "noise"), first(2, "noise"));
    }
}
