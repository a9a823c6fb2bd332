//! Rows of plain numbers, one after the other: what nearly every sampled capture is made of.
//!
//! A cell is looked at in one or two words of eight bytes, its sign, digits, mark and the byte that
//! ends it together. One whose text was met before is not read at all, and a time is read on from the
//! one before. Anything else, a blank, a quotation mark, an exponent, ends the run at the start of
//! its line, and the line is read by the roads of [`super::rows`].
//!
//! A gigabyte has a hundred million cells: what is done for each is what reading takes, and a few
//! instructions are a hundredth of it.

use super::lanes::Lane;
use super::number::Times;
use super::rows::Plan;
use crate::capture::table::block::Block;
use crate::capture::table::column::ColumnRole;
use crate::capture::table::texts::Texts;

/// Whether rows may be of this kind: a time or none, and channels.
pub(super) fn may_be(plan: &Plan) -> bool {
    let of = |wanted: ColumnRole| plan.columns.iter().filter(|(role, _)| *role == wanted).count();
    let times = of(ColumnRole::Time);
    let all = times + plan.channels() == plan.columns.len();
    let times_are_numbers = plan.clock.is_none();
    let separated = plan.separator != b' ' && !plan.trailing && !plan.quoted;
    all && times <= 1 && times_are_numbers && separated
}

/// Rows read in one go, for which there is room before.
pub(super) const RUN: usize = 1024;

/// Reads rows from `at` on for as long as they are of this kind; gives the start of the first line
/// that is not, or the end of the text.
pub(super) fn rows(
    text: &[u8],
    mut at: usize,
    plan: &Plan,
    texts: &[&Texts],
    block: &mut Block,
) -> usize {
    let way = Way::new(text, at, plan);
    let mut time = way.time(plan);
    loop {
        let (rows, next) = way.run(at, plan, texts, &mut time, block);
        at = next;
        block.rows += rows;
        block.lines += rows;
        if rows < RUN {
            break;
        }
    }
    // One more may have been begun.
    block.take_back();
    if let Some((_, times)) = time {
        block.finest = block.finest.min(times.finest);
    }
    at
}

/// What is the same in every row.
struct Way<'a> {
    text: &'a [u8],
    decimal: u8,
    line_end: u8,
    /// What the last cell of a row ends in: the first of two bytes where a line ends in two.
    closes: u8,
}

impl Way<'_> {
    /// Of rows from `at` on, which end as the first of them does.
    fn new<'a>(text: &'a [u8], at: usize, plan: &Plan) -> Way<'a> {
        let line_end = plan.line_end.byte();
        let first = text[at..].split(|&byte| byte == line_end).next();
        let returned = first.is_some_and(|line| line.ends_with(b"\r"));
        let closes = if returned { b'\r' } else { line_end };
        Way { text, decimal: plan.style.decimal, line_end, closes }
    }

    /// What closes the cells of a column.
    fn closing(&self, plan: &Plan, column: usize) -> u8 {
        if column + 1 == plan.columns.len() { self.closes } else { plan.separator }
    }

    /// The column of the times, and what reads them.
    fn time(&self, plan: &Plan) -> Option<(usize, Times)> {
        let column = plan.columns.iter().position(|(role, _)| *role == ColumnRole::Time)?;
        let shift = plan.columns[column].1;
        Some((column, Times::new(self.decimal, self.closing(plan, column), shift)))
    }

    /// Reads up to [`RUN`] rows; gives how many, and where the next one begins. Of that one some
    /// values may have been added already.
    fn run(
        &self,
        mut at: usize,
        plan: &Plan,
        texts: &[&Texts],
        time: &mut Option<(usize, Times)>,
        block: &mut Block,
    ) -> (usize, usize) {
        let before = time.as_ref().map_or(0, |(column, _)| *column);
        let mut lanes: Vec<Lane> = block
            .channels
            .iter_mut()
            .enumerate()
            .map(|(index, cells)| {
                let column = index + usize::from(time.is_some() && index >= before);
                let (closed_by, shift) = (self.closing(plan, column), plan.columns[column].1);
                let kind = (self.decimal, closed_by, shift);
                Lane::new(cells, texts.get(index).copied(), block.rows, kind)
            })
            .collect();
        let (before, after) = lanes.split_at_mut(before);
        let mut time = time.as_mut().map(|(_, times)| (times, &mut block.times));
        for row in 0..RUN {
            match self.row(at, row, before, &mut time, after) {
                Some(next) => at = next,
                None => return (row, at),
            }
        }
        (RUN, at)
    }

    /// Reads one row, the so-many-th of a run, with lanes before the time and behind it; gives the
    /// start of the next line.
    #[inline(always)]
    fn row(
        &self,
        mut at: usize,
        row: usize,
        before: &mut [Lane],
        time: &mut Option<(&mut Times, &mut Vec<f64>)>,
        after: &mut [Lane],
    ) -> Option<usize> {
        for lane in before {
            at = lane.read(self.text, at, row)?;
        }
        if let Some((times, list)) = time {
            let (value, next) = times.read(self.text, at)?;
            list.push(value);
            at = next;
        }
        for lane in after {
            at = lane.read(self.text, at, row)?;
        }
        if self.closes == self.line_end {
            return Some(at);
        }
        (*self.text.get(at)? == self.line_end).then_some(at + 1)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::capture::Values;
    use crate::capture::csv::number::NumberStyle;
    use crate::capture::csv::rows::{careful_row, read};
    use crate::capture::csv::split::{LineEnd, without_return};
    use crate::capture::table::cells::Cells;
    use crate::capture::table::packer::Packer;

    /// A time in milliseconds and two channels.
    fn plan() -> Plan {
        Plan {
            separator: b';',
            style: NumberStyle { decimal: b',', thousands: None },
            line_end: LineEnd::Feed,
            columns: vec![
                (ColumnRole::Time, -3),
                (ColumnRole::Channel, 0),
                (ColumnRole::Channel, 3),
            ],
            trailing: false,
            levels: vec![false; 3],
            timed: true,
            clock: None,
            counter: None,
            quoted: false,
            repeated: vec![],
            line_bytes: 1 << 20,
        }
    }

    proptest! {
        #[test]
        fn rows_read_in_runs_are_those_read_one_by_one(
            lines in prop::collection::vec(
                "-?[0-9]{1,9}(,[0-9]{1,9})?;(-?[0-9]{1,3},[0-9]{1,4}|[0-9]{1,9}|-?[0-9],[0-9]{12}|| 1,5|∞|2e-1);-?[0-9]{1,2}(,[0-9]{1,5})?\r?",
                1..30,
            ),
            // Without a line end behind the last row as well.
            closed in any::<bool>(),
        ) {
            let (plan, text) = (plan(), lines.join("\n") + if closed { "\n" } else { "" });
            let mut one_by_one = Block::default();
            one_by_one.clear(2, |_| false);
            for line in text.lines() {
                careful_row(without_return(line.as_bytes()), &plan, &mut one_by_one).expect("a row");
                one_by_one.rows += 1;
                one_by_one.lines += 1;
            }
            let mut block = Block::default();
            read(text.as_bytes(), &plan, &[], &mut block).expect("rows");
            prop_assert_eq!((block.rows, block.lines), (one_by_one.rows, one_by_one.lines));
            prop_assert_eq!(block.finest, one_by_one.finest);
            prop_assert_eq!(&block.times, &one_by_one.times);
            // Blanks are NaN, equal to nothing.
            let bits = |block: &Block| -> Vec<Vec<u32>> {
                let of = |cells: &Cells| cells.to_vec(&[]).iter().map(|value| value.to_bits()).collect();
                block.channels.iter().map(of).collect()
            };
            prop_assert_eq!(bits(&block), bits(&one_by_one));
        }
    }

    #[test]
    fn a_run_ends_at_the_start_of_the_row_that_is_no_plain_one() {
        let text = b"0,5;1,25;-3,5\n1,0;-0,5;4\n1,5;x;5,5\n2,0;0,5;6,5\n and more behind it";
        let mut block = Block::default();
        block.clear(2, |_| false);
        let end = rows(text, 0, &plan(), &[], &mut block);
        assert_eq!(&text[end..end + 6], b"1,5;x;");
        assert_eq!((block.rows, block.lines), (2, 2));
        assert_eq!(block.times, [0.0005, 0.001]);
        let values: Vec<Vec<f32>> = block.channels.iter().map(|of| of.to_vec(&[])).collect();
        assert_eq!(values, [vec![1.25, -0.5], vec![-3500.0, 4000.0]]);
    }

    #[test]
    fn a_run_goes_on_while_lines_end_as_the_first_does() {
        let text =
            b"0,5;1,25;-3,5\r\n1,0;-0,5;4\r\n1,5;2,5;5,5\n2,0;0,5;6,5\r\n and more behind it";
        let mut block = Block::default();
        block.clear(2, |_| false);
        let end = rows(text, 0, &plan(), &[], &mut block);
        assert_eq!(&text[end..end + 6], b"1,5;2,");
        assert_eq!((block.rows, block.times.len()), (2, 2));
        block.clear(2, |_| false);
        let next = rows(text, end, &plan(), &[], &mut block);
        assert_eq!(&text[next..next + 6], b"2,0;0,");
        // A return that nothing follows is the end of no line.
        let alone = b"0,5;1,25;-3,5\r1,0;-0,5;4,0\r and more behind it";
        block.clear(2, |_| false);
        assert_eq!(rows(alone, 0, &plan(), &[], &mut block), 0);
    }

    #[test]
    fn cells_are_known_again_by_their_texts() {
        let mut channel = Values::default();
        let mut packer = Packer::default();
        packer.texts.start();
        let mut text = Vec::new();
        // More than one run, cells of all lengths, zeros of both signs, and what is longer than a word.
        for row in 0..3 * RUN {
            let value = (row * 7919 % 301) as f64 - 150.0;
            let line = format!("{},{:04};{};{value}\n", row / 10_000, row, -value / 1000.0);
            text.extend(line.replace('.', ",").bytes());
        }
        text.extend(b" and more behind it");
        let plan = plan();
        let mut read = |first: bool| {
            let mut block = Block::default();
            block.clear(2, |_| true);
            let end = rows(&text, 0, &plan, &[&packer.texts, &packer.texts], &mut block);
            assert_eq!((&text[end..end + 4], block.rows), (&b" and"[..], 3 * RUN));
            let Cells::Coded(numbers) = &block.channels[0] else { panic!("codes were asked for") };
            // Before any is known all are new; then only those of eight bytes and more are.
            let new = numbers.new.iter().filter(|new| first || new.text == 0).count();
            assert_eq!(new, numbers.new.len());
            assert_eq!(new < 3 * RUN / 2, !first);
            packer.take(&mut channel, [&block.channels[0]].into_iter(), 0).expect("room");
        };
        read(true);
        read(false);
        let want = |row: usize| -((row % (3 * RUN) * 7919 % 301) as f64 - 150.0) / 1000.0;
        assert_eq!(channel.len(), 6 * RUN);
        assert!(channel.iter().enumerate().all(|(row, &value)| value == want(row) as f32));
    }

    #[test]
    fn tables_of_other_kinds_are_left_alone() {
        assert!(may_be(&plan()));
        for role in
            [ColumnRole::Counter, ColumnRole::TimeAgain, ColumnRole::Words, ColumnRole::Time]
        {
            let mut other = plan();
            other.columns.push((role, 0));
            assert!(!may_be(&other), "{role:?}");
        }
        assert!(!may_be(&Plan { separator: b' ', ..plan() }));
        assert!(!may_be(&Plan { quoted: true, ..plan() }));
        assert!(!may_be(&Plan { trailing: true, ..plan() }));
    }
}
