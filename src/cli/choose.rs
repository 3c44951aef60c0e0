//! `wyebench choose`: parts for a goal, and why the others would not do.

use std::io;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use super::arguments::{ChooseArguments, RankName};
use super::compare::{bar, on_threads};
use super::files::{Format, OutputTarget, write_new, write_whole};
use super::{Failure, Terminal, input};
use crate::analysis::{Figure, TABLE_DIGITS, Unit, shown};
use crate::choose::{
    Answer, AnswerWords, Axis, Choice, MissTally, Need, Parts, Rank, Row, Summary, example_goal,
    example_parts, needs,
};
use crate::predict::Regime;

/// rpm of one rad/s.
const RPM: f64 = 30.0 / std::f64::consts::PI;

/// Chooses parts.
pub(crate) fn command(
    arguments: &ChooseArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    if arguments.example_parts {
        return Ok(write!(terminal.out, "{}", example_parts())?);
    }
    let Some(path) = &arguments.goal else {
        return Ok(write!(terminal.out, "{}", example_goal())?);
    };
    let csv = OutputTarget::asked(arguments.csv.as_deref(), &[Format::Csv])?;
    let goal = input::read_goal(path)?;
    let parts = match &arguments.parts {
        Some(path) => input::read_parts(path)?,
        None => Parts::parse(example_parts(), "the invented parts")
            .map_err(|errors| Failure::Setup(Box::new(errors)))?,
    };
    let choice = Choice::new(goal, parts)?;
    let asked = needs(&choice);
    if !arguments.why.is_empty() {
        return explain(&asked, &arguments.why, terminal);
    }
    let rank = match arguments.by {
        RankName::Power => Rank::Power,
        RankName::RunTime => Rank::RunTime,
        RankName::Margin => Rank::Margin,
    };
    let summary = Summary::new(&choice, rows(&choice, arguments.threads), rank);
    if let Some(target) = &csv {
        write_csv(&choice, &summary, target)?;
    }
    if let Some(path) = &arguments.output {
        write_build(&choice, &summary, arguments.pick, path)?;
    }
    if arguments.json {
        return json(&choice, &asked, &summary, terminal);
    }
    let report = Print {
        choice: &choice,
        summary: &summary,
        top: arguments.top,
        invented: arguments.parts.is_none(),
        by: arguments.by,
    };
    report.asked(&asked, terminal)?;
    report.answers(terminal)?;
    report.reasons(terminal)?;
    report.left_out(terminal)?;
    report.last_words(terminal)?;
    Ok(terminal.wrote([arguments.csv.as_deref(), arguments.output.as_deref()])?)
}

/// All combinations in order.
fn rows(choice: &Choice, threads: Option<u32>) -> Vec<Row> {
    let n = choice.n_combinations();
    let idxs: Vec<u64> = (0..n).collect();
    let bar = bar("choosing", n);
    let n_done = AtomicU64::new(0);
    let found = on_threads(threads, &idxs, |idx| {
        let row = choice.evaluate(*idx);
        let n = 1 + n_done.fetch_add(1, Ordering::Relaxed);
        if let Some(bar) = &bar
            && n.is_multiple_of(64)
        {
            bar.set_position(n);
        }
        row
    });
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    found
}

fn explain(asked: &[Need], wanted: &[String], terminal: &mut Terminal<'_>) -> Result<(), Failure> {
    for (n, need) in asked.iter().enumerate() {
        if n > 0 {
            writeln!(terminal.out)?;
        }
        if !need.propeller.is_empty() {
            writeln!(terminal.out, "With {}\n", need.propeller)?;
        }
        terminal.explain(&need.figures, wanted)?;
    }
    Ok(())
}

/// The build of an answer, with the names of its parts above it.
fn write_build(choice: &Choice, summary: &Summary, pick: u32, path: &Path) -> Result<(), Failure> {
    let none = || Failure::NoAnswer {
        wanted: pick,
        n_answers: summary.answers().len(),
    };
    let at = usize::try_from(pick).unwrap_or(usize::MAX) - 1;
    let row = summary.answers().nth(at).ok_or_else(none)?;
    let build = choice.build(row).ok_or_else(none)?;
    let mut text = format!(
        "# Answer {pick} of {} that meet the goal, by `wyebench choose`. Data sheets of the real parts go before these \
         lines.\n",
        summary.answers().len()
    );
    for axis in choice.chosen() {
        text += &format!(
            "# {}: {}\n",
            axis.word(),
            choice.name(axis, row.parts[axis as usize])
        );
    }
    text += &build.to_toml();
    Ok(write_new(path, text.as_bytes())?)
}

/// One column of figures of an answer: its key, and its value in SI units or as keys say.
type Column = (&'static str, fn(&Answer) -> Option<f64>);

const COLUMNS: [Column; 16] = [
    ("parallel", |a| Some(f64::from(a.parallel))),
    ("duty", |a| Some(a.duty)),
    ("speed_rpm", |a| Some(a.point.speed_rad_s * RPM)),
    ("shaft_torque_nm", |a| Some(a.point.shaft_nm)),
    ("motor_current_a", |a| Some(a.point.motor_current_a)),
    ("pack_current_a", |a| Some(a.point.pack_current_a)),
    ("input_power_w", |a| Some(a.point.input_w)),
    ("shaft_power_w", |a| Some(a.point.shaft_w)),
    ("efficiency", |a| Some(a.point.efficiency)),
    ("electrical_frequency_hz", |a| {
        Some(a.point.electrical_frequency_hz)
    }),
    ("junction_deg_c", |a| a.point.heat.junction_deg_c),
    ("run_time_min", |a| a.run_time_s.map(|time_s| time_s / 60.0)),
    ("fullest_limit_part", |a| {
        a.tightest.map(|limit| limit.part())
    }),
    ("only_about", |a| {
        Some(f64::from(u8::from(a.point.regime != Regime::Continuous)))
    }),
    ("locked_current_a", |a| Some(a.locked_a)),
    ("tip_speed_m_s", |a| a.tip_m_s),
];

/// A number as it is; nothing where there is none.
fn in_full(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| format!("{value}"))
}

fn write_csv(choice: &Choice, summary: &Summary, target: &OutputTarget) -> Result<(), Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let fail = |error: csv::Error| Failure::Output(io::Error::other(error));
    let mut header = vec!["combination"];
    header.extend(Axis::ALL.map(Axis::word));
    header.extend(COLUMNS.map(|(key, _)| key));
    header.extend(["price", "mass_kg", "fullest_limit", "reason"]);
    writer.write_record(&header).map_err(fail)?;
    for row in summary.rows() {
        let mut record = vec![row.idx.to_string()];
        record.extend(Axis::ALL.map(|axis| choice.name(axis, row.parts[axis as usize]).to_owned()));
        match &row.outcome {
            Ok(answer) => {
                record
                    .extend(COLUMNS.map(|(_, value)| {
                        in_full(value(answer).filter(|value| value.is_finite()))
                    }));
                let totals = choice.totals(row);
                record.extend([totals.price, totals.mass_kg].map(in_full));
                let fullest = answer.tightest.map_or("", |limit| limit.name);
                record.extend([fullest.to_owned(), String::new()]);
            }
            Err(miss) => {
                record.extend(COLUMNS.map(|_| String::new()));
                record.extend([
                    String::new(),
                    String::new(),
                    String::new(),
                    miss.to_string(),
                ]);
            }
        }
        writer.write_record(&record).map_err(fail)?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|error| Failure::Output(io::Error::other(error.to_string())))?;
    Ok(write_whole(target.path(), &bytes)?)
}

fn json(
    choice: &Choice,
    asked: &[Need],
    summary: &Summary,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let names = |row: &Row| {
        let pairs = Axis::ALL.map(|axis| {
            let name = choice.name(axis, row.parts[axis as usize]);
            (axis.word().to_owned(), serde_json::Value::from(name))
        });
        serde_json::Map::from_iter(pairs)
    };
    let answers: Vec<_> = summary
        .answers()
        .filter_map(|row| Some((row, row.outcome.as_ref().ok()?)))
        .map(|(row, answer)| {
            let mut object = names(row);
            for (key, value) in COLUMNS {
                object.insert(
                    key.to_owned(),
                    value(answer).filter(|v| v.is_finite()).into(),
                );
            }
            let fullest = answer.tightest.map(|limit| limit.name);
            let totals = choice.totals(row);
            object.insert("price".to_owned(), totals.price.into());
            object.insert("mass_kg".to_owned(), totals.mass_kg.into());
            object.insert("fullest_limit".to_owned(), fullest.into());
            object
        })
        .collect();
    let tally = |tally: &MissTally<'_>| {
        serde_json::json!({
            "reason": tally.kind.0, "combinations": tally.n, "closest": names(tally.closest.0),
            "closest_in_words": tally.closest.1.to_string(),
        })
    };
    let needs: Vec<_> = asked
        .iter()
        .map(|need| {
            let mut object = serde_json::Map::new();
            if !need.propeller.is_empty() {
                object.insert("propeller".to_owned(), need.propeller.as_str().into());
            }
            for figure in &need.figures {
                object.insert(figure.key.to_owned(), figure.number().into());
            }
            object
        })
        .collect();
    let left_out: Vec<_> = summary
        .parts_left_out()
        .iter()
        .map(|part| {
            serde_json::json!({
                "part": part.axis.word(), "name": choice.name(part.axis, part.at), "combinations": part.n,
                "reasons": part.reasons.iter().map(tally).collect::<Vec<_>>(),
            })
        })
        .collect();
    let words = best_words(choice, summary).unwrap_or_default();
    let object = serde_json::json!({
        "title": choice.goal().title,
        "combinations": summary.n_rows(),
        "goal_asks": needs,
        "answers": answers,
        "reasons": summary.reasons().iter().map(tally).collect::<Vec<_>>(),
        "parts_left_out": left_out,
        "warnings": words.doubts,
        "cautions": words.cautions,
    });
    terminal.json(&object)
}

/// What is printed for a person.
struct Print<'a> {
    choice: &'a Choice,
    summary: &'a Summary,
    top: usize,
    invented: bool,
    by: RankName,
}

impl Print<'_> {
    /// What the goal asks of any build.
    fn asked(&self, asked: &[Need], terminal: &mut Terminal<'_>) -> io::Result<()> {
        terminal.title(&self.choice.goal().title, "\n")?;
        writeln!(terminal.out, "The goal asks")?;
        let most = self.top.max(1);
        for need in asked.iter().take(most) {
            writeln!(terminal.out, "  {}", in_a_line(need))?;
        }
        if asked.len() > most {
            let n = asked.len() - most;
            let s = if n == 1 { "" } else { "s" };
            writeln!(terminal.out, "  and {n} more propeller{s}, with --top N")?;
        }
        Ok(())
    }

    fn answers(&self, terminal: &mut Terminal<'_>) -> io::Result<()> {
        let n = self.summary.answers().len();
        let from = if self.invented {
            " of invented parts"
        } else {
            ""
        };
        let order = match self.by {
            RankName::Power => "least power from the pack first",
            RankName::RunTime => "longest run time first",
            RankName::Margin => "most of every limit free first",
        };
        let out = &mut *terminal.out;
        let all = self.summary.n_rows();
        match n {
            0 => return writeln!(out, "\nNone of {all} combinations{from} meets it"),
            1 => writeln!(out, "\n1 of {all} combinations{from} meets it")?,
            n => writeln!(out, "\n{n} of {all} combinations{from} meet it, {order}")?,
        }
        for (at, row) in self.summary.answers().take(self.top).enumerate() {
            let Ok(answer) = &row.outcome else {
                continue;
            };
            writeln!(out, "  {:>2}  {}", at + 1, self.choice.names(row))?;
            let totals = self.choice.totals(row).words();
            let gap = if totals.is_empty() { "" } else { "; " };
            let (duty, words) = (answer.duty, answer.words());
            writeln!(out, "      duty {duty:.2}; {words}{gap}{totals}")?;
        }
        if n > self.top {
            writeln!(
                out,
                "  and {} more, with --top N or --csv FILE",
                n - self.top
            )?;
        }
        Ok(())
    }

    /// Reasons over all combinations.
    fn reasons(&self, terminal: &mut Terminal<'_>) -> io::Result<()> {
        let reasons = self.summary.reasons();
        if reasons.is_empty() {
            return Ok(());
        }
        let out = &mut *terminal.out;
        writeln!(out, "\nWhy the others do not, and the nearest of each")?;
        for tally in &reasons {
            writeln!(
                out,
                "  {:>6}  {}: {}",
                tally.n,
                self.choice.names(tally.closest.0),
                tally.closest.1
            )?;
        }
        Ok(())
    }

    /// Parts that no answer has.
    fn left_out(&self, terminal: &mut Terminal<'_>) -> io::Result<()> {
        let parts: Vec<_> = self
            .summary
            .parts_left_out()
            .into_iter()
            .filter(|part| !self.choice.is_fixed(part.axis))
            .collect();
        if parts.is_empty() {
            return Ok(());
        }
        let out = &mut *terminal.out;
        writeln!(out, "\nIn no answer")?;
        let most = self.top.max(1).saturating_mul(2);
        for part in parts.iter().take(most) {
            writeln!(out, "  {}", part.words(self.choice))?;
        }
        if parts.len() > most {
            writeln!(
                out,
                "  and {} more parts, with --top N or --csv FILE",
                parts.len() - most
            )?;
        }
        Ok(())
    }

    /// What the answers rest on, and the cautions.
    fn last_words(&self, terminal: &mut Terminal<'_>) -> io::Result<()> {
        let Some(words) = best_words(self.choice, self.summary) else {
            return Ok(());
        };
        if !words.doubts.is_empty() {
            writeln!(terminal.out, "\nAbout the first answer")?;
            for doubt in &words.doubts {
                terminal.wrapped("  ", "  ", doubt)?;
            }
        }
        terminal.cautions(&words.cautions)
    }
}

/// What goes with the first answer.
fn best_words(choice: &Choice, summary: &Summary) -> Option<AnswerWords> {
    AnswerWords::of(choice, summary.answers().next()?)
}

/// What the goal asks, in one line.
fn in_a_line(need: &Need) -> String {
    let value = |key: &str| {
        need.figures
            .iter()
            .find(|figure| figure.key == key)
            .map(|figure| figure.shown(TABLE_DIGITS).to_string())
    };
    let text = |key: &str| value(key).unwrap_or_default();
    let mut line = if need.propeller.is_empty() {
        "the load".to_owned()
    } else {
        need.propeller.clone()
    };
    line += &format!(
        " turns at {} and takes {}, {}",
        text("load_speed_rpm"),
        text("load_torque_nm"),
        text("load_power_w")
    );
    if let Some(kv) = value("least_kv_rpm_per_v") {
        let highest = need.figures.iter().find_map(highest_v).unwrap_or_default();
        line += &format!(
            "; from {}, the highest pack, a Kv of at least {kv} times the gear and {}",
            shown(highest, Unit::VOLT, 3),
            text("least_pack_current_a")
        );
    }
    line
}

fn highest_v(figure: &Figure) -> Option<f64> {
    let input = figure.inputs.iter().find(|input| input.symbol == "U")?;
    Some(input.value)
}
