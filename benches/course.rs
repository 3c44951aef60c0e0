//! How long does each run of the course take on one core, and how long in a browser?
//!
//! `cargo bench --bench course --no-default-features`, or with a browser beside it `tests/web speed`:
//! that hands over in `WYEBENCH_WEB_TIMES` what the page counted, a line of name and ms for each run.
//! Of several tries the shortest counts on either side, so that other work of the machine weighs less.

#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a bench looks at the clock, reads what the page counted and speaks to the terminal"
)]

use std::collections::BTreeMap;
use std::time::Instant;

use wyebench::lesson::tally;

/// Tries of each run.
const TRIES: usize = 5;

fn main() {
    let file =
        std::env::var_os("WYEBENCH_WEB_TIMES").and_then(|path| std::fs::read_to_string(path).ok());
    let web_ms: BTreeMap<&str, f64> = file
        .iter()
        .flat_map(|text| text.lines())
        .filter_map(|line| line.rsplit_once(' '))
        .filter_map(|(name, ms)| Some((name, ms.parse().ok()?)))
        .collect();
    let (mut sum_ms, mut sum_web_ms) = (0.0, 0.0);
    println!(
        "{:48} {:>10} {:>10} {:>8}",
        "run", "here, ms", "page, ms", "ratio"
    );
    for name in tally::names() {
        let of_try = |_| {
            let began = Instant::now();
            let n = tally::lines(&name).map_or(0, |lines| lines.len());
            assert!(n > 0, "{name:?} gives no figures");
            began.elapsed().as_secs_f64() * 1e3
        };
        let ms = (0..TRIES).map(of_try).fold(f64::INFINITY, f64::min);
        let name = name.join("/");
        sum_ms += ms;
        match web_ms.get(name.as_str()) {
            Some(web) => {
                sum_web_ms += web;
                println!("{name:48} {ms:10.2} {web:10.2} {:8.2}", web / ms);
            }
            None => println!("{name:48} {ms:10.2}"),
        }
    }
    println!(
        "{:48} {sum_ms:10.2} {sum_web_ms:10.2} {:8.2}",
        "all",
        sum_web_ms / sum_ms
    );
}
