//! Options of the commands for the site.

use clap::{Args as ClapArgs, Subcommand};
use std::path::PathBuf;

/// Options of `log`.
#[derive(Debug, ClapArgs)]
pub struct Log {
    /// What to do.
    #[command(subcommand)]
    pub command: LogCommand,
}

/// What to do with the log.
#[derive(Debug, Subcommand)]
pub enum LogCommand {
    /// Add a record; nothing in the log is ever changed, a correction is a new record.
    Add(Box<LogAdd>),
    /// The records, oldest first.
    List(LogList),
    /// One record, whole.
    Show(LogShow),
    /// Hand the log on: JSON Lines, photos as safe copies, and a manifest.
    Export(LogExport),
    /// Take in an exported folder or a file of JSON Lines; what is here already is passed over.
    Import(LogImport),
    /// Check the chain of hashes and every original.
    Verify(LogVerify),
}

/// Options of `log add`.
#[derive(Debug, ClapArgs)]
pub struct LogAdd {
    /// Kind, such as leak-found; with no fields given, its fields are listed and nothing is added.
    pub kind: String,
    /// Fields as KEY=TEXT, figures with their unit, such as flow="95 m³/h".
    #[arg(value_name = "KEY=TEXT")]
    pub fields: Vec<String>,
    /// Folder of the project.
    #[arg(long, value_name = "FOLDER", default_value = ".")]
    pub dir: PathBuf,
    /// Where: a plan item such as opening.N4, or words.
    #[arg(long, default_value = "")]
    pub place: String,
    /// Stage of the job [default: the book's].
    #[arg(long)]
    pub stage: Option<String>,
    /// Who; initials are enough [default: the last one given in this project].
    #[arg(long)]
    pub name: Option<String>,
    /// Stated value or plan item it speaks of.
    #[arg(long, value_name = "ID")]
    pub about: Option<String>,
    /// In words.
    #[arg(long, default_value = "")]
    pub note: String,
    /// Photo or file that belongs to it; may be given several times.
    #[arg(long, value_name = "FILE")]
    pub photo: Vec<PathBuf>,
    /// Also note where the camera says a photo was taken.
    #[arg(long)]
    pub keep_location: bool,
    /// When, with offset [default: now].
    #[arg(long, value_name = "TIME")]
    pub time: Option<String>,
    /// The record that this one corrects.
    #[arg(long, value_name = "ID")]
    pub corrects: Option<String>,
    /// The owner's mark on the instrument.
    #[arg(long, value_name = "MARK")]
    pub instrument: Option<String>,
    /// Day of the instrument's last calibration.
    #[arg(long, value_name = "DATE", requires = "instrument")]
    pub calibrated: Option<String>,
    /// The instrument's uncertainty by its certificate, such as "± 3 %".
    #[arg(long, value_name = "TEXT", requires = "instrument")]
    pub uncertainty: Option<String>,
    /// Identifier, when a record is sent again [default: a fresh one].
    #[arg(long)]
    pub id: Option<String>,
    /// The acknowledgement as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `log list`.
#[derive(Debug, ClapArgs)]
pub struct LogList {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub dir: PathBuf,
    /// Only of this kind.
    #[arg(long)]
    pub kind: Option<String>,
    /// Only where the place holds this text.
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Only of this stage.
    #[arg(long)]
    pub stage: Option<String>,
    /// Only from this day on.
    #[arg(long, value_name = "DATE")]
    pub since: Option<String>,
    /// A JSON list.
    #[arg(long)]
    pub json: bool,
}

/// Options of `log show`.
#[derive(Debug, ClapArgs)]
pub struct LogShow {
    /// Number, id, or the beginning of an id.
    pub record: String,
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub dir: PathBuf,
    /// A JSON list: one record, or several that share the id.
    #[arg(long)]
    pub json: bool,
}

/// Options of `log export`.
#[derive(Debug, ClapArgs)]
pub struct LogExport {
    /// Folder to make; new or empty.
    pub to: PathBuf,
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub dir: PathBuf,
    /// Photos also as they were received, with all their cameras noted: for moving house, not for handing round.
    #[arg(long)]
    pub originals: bool,
    /// The manifest on standard output.
    #[arg(long)]
    pub json: bool,
}

/// Options of `log import`.
#[derive(Debug, ClapArgs)]
pub struct LogImport {
    /// Exported folder, or file of JSON Lines.
    pub from: PathBuf,
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub dir: PathBuf,
    /// What was taken in, as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `log verify`.
#[derive(Debug, ClapArgs)]
pub struct LogVerify {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub dir: PathBuf,
}

/// Options of `works`. Ends with 1 when something does not go together.
#[derive(Debug, ClapArgs)]
pub struct Works {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// Weeks to look ahead.
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=104))]
    pub weeks: u32,
    /// One day on one page: who is on site, what may not be covered, what to photograph, what is due.
    #[arg(long, value_name = "DATE")]
    pub day: Option<String>,
    /// All works as CSV, as the book reads them.
    #[arg(long, conflicts_with_all = ["ics", "json"])]
    pub csv: bool,
    /// Works, inspections and answers that are due as a calendar (iCalendar).
    #[arg(long, conflicts_with = "json")]
    pub ics: bool,
    /// Everything as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `takeoff`.
#[derive(Debug, ClapArgs)]
pub struct Takeoff {
    /// Folder of the project.
    #[arg(default_value = ".")]
    pub folder: PathBuf,
    /// CSV, with the elements each figure was measured on.
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// JSON, in SI.
    #[arg(long)]
    pub json: bool,
}
