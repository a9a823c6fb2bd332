//! Which level a cell's text stands for: a capture of millions of rows writes the few levels of a
//! converter again and again, and to know a text again takes a third of the time of reading it.

/// Longest text that is kept, in bytes: seven, and one for how many they are.
pub(crate) const LONGEST: u32 = 7;
/// More texts are no more at hand in a core's second cache, and reading is as fast.
const MOST_TEXTS: usize = 1 << 15;
const FIRST_SLOTS: usize = 1 << 10;
/// Texts, or levels, whose hashes fall together over more slots than this are made to be slow, and
/// are not kept so. By chance the longest row of taken slots is about 57 of 65,535 in twice as many
/// (ln n / (α − 1 − ln α) with half of them taken, from memory).
pub(super) const MOST_STEPS: usize = 256;
/// 2^64 over the golden ratio, as for the levels in [`super::packer`].
const SPREAD: u64 = 0x9E37_79B9_7F4A_7C15;

/// The texts of a channel's cells.
#[derive(Debug, Clone, Default)]
pub(crate) struct Texts {
    /// A text and the number of its level, where its hash says or behind; a text is never 0, which
    /// stands where there is none. A power of two, at least twice as many as there are texts;
    /// empty where none are kept.
    slots: Vec<(u64, u16)>,
    /// Bits of a hash that are too many for the place of a slot.
    spare: u32,
    count: usize,
}

/// The text in the first `length` bytes of eight; `length` is from 1 to [`LONGEST`].
#[inline(always)]
pub(crate) fn text_of(word: u64, length: u32) -> u64 {
    word & !(u64::MAX << (8 * length)) | u64::from(length) << (8 * LONGEST)
}

impl Texts {
    /// Room for some.
    pub fn start(&mut self) {
        self.slots = vec![(0, 0); FIRST_SLOTS];
        self.spare = u64::BITS - FIRST_SLOTS.ilog2();
        self.count = 0;
    }

    /// None are kept any more.
    pub fn stop(&mut self) {
        *self = Texts::default();
    }

    /// Whether texts are kept.
    pub fn are_kept(&self) -> bool {
        !self.slots.is_empty()
    }

    /// The number of a text's level.
    #[inline(always)]
    pub fn get(&self, text: u64) -> Option<u16> {
        let mask = self.slots.len().wrapping_sub(1);
        let mut at = self.place(text);
        loop {
            let &(there, code) = self.slots.get(at)?;
            if there == text {
                return Some(code);
            }
            if there == 0 {
                return None;
            }
            at = (at + 1) & mask;
        }
    }

    /// Keeps a text, which may be kept already, while there is room; then none any more.
    pub fn put(&mut self, text: u64, code: u16) {
        if !self.are_kept() || self.get(text).is_some() {
            return;
        }
        if self.count == MOST_TEXTS {
            return self.stop();
        }
        self.count += 1;
        let mut whole = true;
        if self.slots.len() < 2 * self.count {
            let slots = vec![(0, 0); 2 * self.slots.len()];
            let before = std::mem::replace(&mut self.slots, slots);
            self.spare -= 1;
            whole = before.into_iter().filter(|slot| slot.0 != 0).all(|slot| self.set(slot));
        }
        if !whole || !self.set((text, code)) {
            self.stop();
        }
    }

    /// Puts a text that is not there yet; `false` where too many stand in its way.
    fn set(&mut self, slot: (u64, u16)) -> bool {
        let mask = self.slots.len() - 1;
        let first = self.place(slot.0);
        let mut places = (first..first + MOST_STEPS).map(|at| at & mask);
        let free = places.find(|&at| self.slots[at].0 == 0);
        if let Some(at) = free {
            self.slots[at] = slot;
        }
        free.is_some()
    }

    #[inline(always)]
    fn place(&self, text: u64) -> usize {
        (text.wrapping_mul(SPREAD) >> (self.spare & 63)) as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> u64 {
        let mut bytes = [b'9'; 8];
        bytes[..text.len()].copy_from_slice(text.as_bytes());
        text_of(u64::from_le_bytes(bytes), text.len() as u32)
    }

    #[test]
    fn a_text_is_its_bytes_and_how_many_they_are() {
        assert_ne!(of("1.5"), of("1.5\0"));
        assert_ne!(of("1.50"), of("1.5"));
        assert_eq!(of("-12.345"), of("-12.345"));
    }

    #[test]
    fn texts_are_known_again_until_they_are_too_many() {
        let mut texts = Texts::default();
        texts.put(of("1"), 5);
        assert_eq!(texts.get(of("1")), None, "none are kept before the start");
        texts.start();
        let text = |number: usize| of(&format!("{:.3}", number as f64 / 1000.0));
        for number in 0..MOST_TEXTS {
            texts.put(text(number), number as u16);
            texts.put(text(number), 1);
        }
        assert!((0..MOST_TEXTS).all(|number| texts.get(text(number)) == Some(number as u16)));
        assert_eq!(texts.get(of("x")), None);
        texts.put(of("x"), 1);
        assert!(!texts.are_kept());
        assert_eq!(texts.get(text(3)), None);
    }
}
