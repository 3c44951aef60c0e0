//! Without a window: run the setup and write what it gives.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::arguments::ThemeName;
use super::files::{FileError, Format, OutputTarget, write_whole};
use super::run::{Wanted, run_setup};
use super::{Failure, Terminal, table};
use crate::setup::Setup;

const FOLDER: &str = "wyebench-out";

/// Runs a setup into the folder and prints its figures. `why` says why there is no window, `what`
/// what is run.
pub(crate) fn command(
    setup: &Setup,
    what: &str,
    why: &str,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let _ = writeln!(
        std::io::stderr(),
        "{why}: running {what} without a window; `wyebench --help` says what else there is"
    );
    let folder = Path::new(FOLDER);
    std::fs::create_dir_all(folder).map_err(|error| {
        let path = folder.to_path_buf();
        Failure::File(if path.is_file() {
            FileError::NotFolder { path }
        } else {
            FileError::NotWritable { path, error }
        })
    })?;
    let at = |name: &str| folder.join(name);
    let target = |name: &str, format| OutputTarget::check(&at(name), &[format]);
    let wanted = Wanted {
        waveforms: Some(target("waveforms.csv", Format::Csv)?),
        vcd: Some(target("legs.vcd", Format::Vcd)?),
        plots: vec![
            target("strips.svg", Format::Svg)?,
            target("strips.png", Format::Png)?,
        ],
        theme: ThemeName::Dark,
    };
    let figures = target("figures.json", Format::Json)?;
    let report = run_setup(setup, &wanted)?;
    let json = serde_json::to_string_pretty(&report.json())? + "\n";
    write_whole(figures.path(), json.as_bytes())?;
    table::print(&setup.title, &report, terminal)?;
    writeln!(terminal.out, "\nWritten")?;
    let written: [(PathBuf, &str); 5] = [
        (at("figures.json"), "the figures above, in SI units"),
        (
            at("waveforms.csv"),
            "currents, back-EMF, voltages, torque, legs at each sample",
        ),
        (
            at("legs.vcd"),
            "legs and step, for a viewer of logic traces",
        ),
        (at("strips.svg"), "picture of the last electrical turns"),
        (at("strips.png"), "the same in pixels"),
    ];
    for (path, what) in written {
        writeln!(terminal.out, "  {:<28} {what}", path.display().to_string())?;
    }
    Ok(())
}
