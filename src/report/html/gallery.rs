//! The pictures of a report, each at the size at which it can be read on paper, and which of them
//! find room where.

use maud::{Markup, html};

use super::room::{self, WIDTH};
use super::{Figure, figure};
use crate::analysis::Analysis;
use crate::report::compression;
use crate::report::pictures::Picture;

/// Points on paper for each of a picture's own: its smallest text, of 12.5, is then printed in 7.06
/// points, and a picture 930 wide is as wide as A4 leaves.
const SCALE: f64 = 0.565;
/// Between pictures, across and down; `report.css` has the same.
const GAPS: (f64, f64) = (8.0, 6.0);

/// A picture, or words in its place.
pub(super) struct Shown {
    /// On paper, with its caption.
    size: (f64, f64),
    markup: Markup,
}

/// One picture, where it was drawn.
pub(super) fn one(figures: &[Figure], picture: Picture, words: &str) -> Option<Shown> {
    let found = figures.iter().find(|figure| figure.picture == picture)?;
    let (width, height) = (SCALE * found.size.0, SCALE * found.size.1);
    let caption = room::caption(&format!("{}. {words}", picture.title()), width);
    // A capital letter, since no text in here looks like an option of the command line.
    let markup = html! {
        div.sized style=(format!("--Paper: {width:.0}pt")) { (figure(figures, picture, words)) }
    };
    Some(Shown { size: (width, height + caption), markup })
}

/// The signals.
pub(super) fn signals(figures: &[Figure]) -> Option<Shown> {
    let words = "One cycle of the capture; edges are medians over all cycles";
    one(figures, Picture::Traces, words)
}

/// The others that show what was found. The close-up is a page of its own, in the annex.
pub(super) fn of(analysis: &Analysis, figures: &[Figure]) -> Vec<Shown> {
    let banks = analysis.compression.measured.as_ref().map(compression::banks_in_short);
    let words = [
        (Picture::Cycles, "The band is the tolerance"),
        (Picture::Wheels, ""),
        (Picture::Compression, banks.as_deref().unwrap_or_default()),
        (Picture::Current, ""),
        (Picture::Drive, ""),
        (
            Picture::Pressure,
            "Mean of the cycles, counted from the top dead centre that the pressure shows",
        ),
        (Picture::Speed, ""),
    ];
    let mut drawn: Vec<(Picture, Shown)> = words
        .into_iter()
        .filter_map(|(picture, words)| Some((picture, one(figures, picture, words)?)))
        .collect();
    // Bars of many cylinders leave no room for the current beside them, but for most drives.
    for at in 2..drawn.len() {
        let [before, here, next] = [at - 2, at - 1, at].map(|at| (drawn[at].0, drawn[at].1.size.0));
        let apart = here.0 == Picture::Current && before.1 + GAPS.0 + here.1 > WIDTH;
        if apart && next.0 == Picture::Drive && before.1 + GAPS.0 + next.1 <= WIDTH {
            drawn.swap(at - 1, at);
        }
    }
    let drawn = drawn.into_iter().map(|(_, shown)| shown);
    drawn.chain(compression_missing(analysis)).collect()
}

/// Why there is no compression, where a reason is known.
fn compression_missing(analysis: &Analysis) -> Option<Shown> {
    if analysis.compression.measured.is_some() {
        return None;
    }
    let (source, reason) = analysis.compression.withheld.first()?;
    let words = format!("Not judged from {}: {reason}.", source.word().replace('-', " "));
    let markup = html! {
        div.sized style=(format!("--Paper: {:.0}pt", WIDTH)) {
            figure.compression {
                figcaption { b { (Picture::Compression.title()) } }
                p { (words) }
            }
        }
    };
    Some(Shown { size: (WIDTH, room::caption(&words, WIDTH) + room::caption("x", WIDTH)), markup })
}

/// Takes from the front of `waiting` what finds room in `height` points of a page.
pub(super) fn take(waiting: &mut Vec<Shown>, height: f64) -> Option<Markup> {
    let (mut rows, mut across, mut row) = (0.0, f64::INFINITY, 0.0_f64);
    let fitting = waiting.iter().take_while(|one| {
        let (wide, high) = one.size;
        if across + GAPS.0 + wide > WIDTH {
            rows += row;
            (across, row) = (0.0, 0.0);
        } else {
            across += GAPS.0;
        }
        across += wide;
        row = row.max(high + GAPS.1);
        rows + row <= height
    });
    let count = fitting.count();
    let taken: Vec<Shown> = waiting.drain(..count).collect();
    (!taken.is_empty()).then(|| side_by_side(&taken))
}

/// Pictures beside each other where their widths allow it, else below each other.
pub(super) fn side_by_side(shown: &[Shown]) -> Markup {
    html! { @if !shown.is_empty() { div.figures { @for one in shown { (one.markup) } } } }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(wide: f64, high: f64) -> Shown {
        Shown { size: (wide, high), markup: html! { p { "x" } } }
    }

    /// Two of half the width share a row; what does not fit waits, and so does all behind it.
    #[test]
    fn rows_are_filled_and_the_rest_waits() {
        let all =
            || vec![shown(250.0, 100.0), shown(250.0, 120.0), shown(527.0, 80.0), shown(9.0, 9.0)];
        for (room, left) in [(90.0, 4), (110.0, 3), (130.0, 2), (200.0, 2), (220.0, 1), (300.0, 0)]
        {
            let mut waiting = all();
            let taken = take(&mut waiting, room);
            assert_eq!((taken.is_some(), waiting.len()), (left < 4, left), "{room}");
        }
    }
}
