//! `wyebench wind`: a winding for slots and poles.

use super::arguments::WindArguments;
use super::{Failure, Terminal};
use crate::winding::{WindReport, Winding};

pub(crate) fn command(
    arguments: &WindArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let WindArguments {
        slots,
        poles,
        layers,
        span,
        json,
    } = *arguments;
    let report = WindReport::of(&Winding::lay_out(slots, poles, layers, span)?);
    if json {
        writeln!(terminal.out, "{}", serde_json::to_string_pretty(&report)?)?;
    } else {
        write!(terminal.out, "{}", report.text())?;
    }
    Ok(())
}
