//! Which level a cell's text stands for: a capture of millions of rows writes the few levels of a
//! converter again and again, and to know a text again takes a third of the time of reading it.

use super::numbering::Numbering;

/// As many as there are levels, about. They are not all at hand in a core's second cache, and yet a table with 50,000
/// in two of four columns takes a quarter less time than with half as many.
const MOST_TEXTS: usize = 1 << 16;

/// The texts of a channel's cells, each as a word of eight bytes that stands for no other.
#[derive(Debug, Clone, Default)]
pub(crate) struct Texts {
    are_kept: bool,
    numbers: Numbering<u64>,
}

impl Texts {
    /// From here on they are kept.
    pub fn start(&mut self) {
        self.are_kept = true;
    }

    /// None are kept any more.
    pub fn stop(&mut self) {
        *self = Texts::default();
    }

    /// Whether texts are kept.
    pub fn are_kept(&self) -> bool {
        self.are_kept
    }

    /// The number of a text's level.
    #[inline(always)]
    pub fn get(&self, text: u64) -> Option<u16> {
        self.numbers.get(text)
    }

    /// Keeps a text, which may be kept already, while there is room; then none any more.
    pub fn put(&mut self, text: u64, code: u16) {
        if !self.are_kept || self.get(text).is_some() {
            return;
        }
        if self.numbers.len() == MOST_TEXTS || !self.numbers.put(text, code) {
            self.stop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(text: &str) -> u64 {
        text.bytes().rev().fold(0, |word, byte| word << 8 | u64::from(byte))
    }

    #[test]
    fn texts_are_known_again_until_they_are_too_many() {
        let mut texts = Texts::default();
        texts.put(of("1"), 5);
        assert_eq!(texts.get(of("1")), None, "none are kept before the start");
        texts.start();
        let text = |number: usize| of(&format!("{:.3}", number as f64 / 1000.0));
        let code = |number: usize| (number % 1000) as u16;
        for number in 0..MOST_TEXTS {
            texts.put(text(number), code(number));
            texts.put(text(number), 1);
        }
        assert!((0..MOST_TEXTS).all(|number| texts.get(text(number)) == Some(code(number))));
        assert_eq!(texts.get(of("x")), None);
        texts.put(of("x"), 1);
        assert!(!texts.are_kept());
        assert_eq!(texts.get(text(3)), None);
    }
}
