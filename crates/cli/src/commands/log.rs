//! `windtight log`.

use crate::Ended;
use crate::args::{Log, LogAdd, LogCommand, LogExport, LogImport, LogList, LogShow, LogVerify};
use crate::failure::Failure;
use crate::terminal::{Terminal, columns};
use building::records::{Body, Instrument, Record};
use project::diagnostic::{Report, clean, count};
use project::log::{self, Entry, Incoming, LogError, Outcome, Shape};
use project::source::{Folder, Sources};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Does what was asked with the log.
pub fn run(options: &Log, terminal: &Terminal) -> Result<Ended, Failure> {
    match &options.command {
        LogCommand::Add(options) => add(options, terminal),
        LogCommand::List(options) => list(options, terminal),
        LogCommand::Show(options) => show(options, terminal),
        LogCommand::Export(options) => export(options, terminal),
        LogCommand::Import(options) => import(options, terminal),
        LogCommand::Verify(options) => verify(options, terminal),
    }
}

fn folder(path: &Path) -> Result<Folder, Failure> {
    Folder::open(path).map_err(|d| Failure::Input(Box::new(Report::new(Sources::default(), vec![*d]))))
}

fn fail(error: LogError) -> Failure {
    Failure::Log(Box::new(error))
}

fn print_json(terminal: &Terminal, value: &Value) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Failure::Internal(e.to_string()))?;
    terminal.print(&format!("{text}\n"))
}

/// Returns an entry as the promised shape.
fn entry_json(entry: &Entry) -> Value {
    // A line that was read is JSON.
    let record: Value = serde_json::from_str(&entry.line).unwrap_or(Value::Null);
    json!({ "number": entry.number, "hash": entry.hash, "disputed": entry.disputed, "record": record })
}

fn add(options: &LogAdd, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    if options.fields.is_empty() && options.note.is_empty() && options.photo.is_empty() {
        return Err(form(&options.kind));
    }
    // The book is asked for the stage and for dimensions; a book with errors does not keep a record from being kept.
    let project = project::check(&folder).project;
    let mut record = record(options, project.as_ref())?;
    let remembered = folder.root().join(".windtight/name");
    record.head.name = match &options.name {
        Some(name) => name.clone(),
        None => std::fs::read_to_string(&remembered).unwrap_or_default().trim().to_owned(),
    };
    let mut attachments = Vec::new();
    for path in &options.photo {
        let bytes =
            std::fs::read(path).map_err(Failure::while_doing(format!("reading {}", path.display())))?;
        let file_name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        attachments.push(Incoming {
            bytes,
            file_name,
            keep_location: options.keep_location,
            ..Incoming::default()
        });
    }
    let log = log::Log::open(&folder).map_err(fail)?;
    for warning in log.warnings() {
        terminal.say(&terminal.paragraph(&warning, ""));
    }
    let ack = log.append(record, attachments).map_err(fail)?;
    if options.name.is_some() {
        // Only a convenience for the next record: without it the name is given again.
        let _ = std::fs::create_dir_all(folder.root().join(".windtight"))
            .and_then(|()| std::fs::write(&remembered, &ack.record.head.name));
    }
    let (word, others) = match &ack.outcome {
        Outcome::Kept => ("kept", Vec::new()),
        Outcome::AlreadyThere => ("already there", Vec::new()),
        Outcome::BesideOthers { numbers } => ("beside others", numbers.clone()),
    };
    if options.json {
        let line = ack.record.to_line().map_err(Failure::Internal)?;
        let record: Value = serde_json::from_str(&line).map_err(|e| Failure::Internal(e.to_string()))?;
        print_json(
            terminal,
            &json!({ "number": ack.number, "hash": ack.hash, "outcome": word, "others": others, "record": record }),
        )?;
    } else {
        let text = format!("record {} {word}: {}", ack.number, clean(&log::sentence(&ack.record)));
        terminal.print(&terminal.paragraph(&text, ""))?;
        terminal.print(&format!("  id {}\n", ack.record.head.id))?;
    }
    if !others.is_empty() {
        let numbers: Vec<String> = others.iter().map(i64::to_string).collect();
        terminal.say(&format!(
            "the same id stands for other content in record {}: both are kept; say which holds in a record with --corrects\n",
            numbers.join(", ")
        ));
    }
    Ok(Ended::Well)
}

/// Says what a kind asks for.
fn form(kind: &str) -> Failure {
    let Some(fields) = log::fields(kind) else {
        let wrong = log::body(kind, &[], &|_| None).err().unwrap_or_default();
        return told(&wrong);
    };
    let rows: Vec<Vec<String>> = fields
        .iter()
        .map(|field| {
            let takes = match field.shape {
                Shape::Text => "words".to_owned(),
                Shape::Date => "2025-09-03".to_owned(),
                Shape::YesNo => "yes or no".to_owned(),
                Shape::Count => "a whole number".to_owned(),
                Shape::List => "words; words".to_owned(),
                Shape::Figure(d) => d.iter().map(|d| d.name()).collect::<Vec<_>>().join(" or "),
                Shape::Figures(d) => format!("{0}; {0}", d.name()),
                Shape::Points => "50 Pa 601 m³/h; 43 Pa 540 m³/h".to_owned(),
                Shape::Properties => "id = figure; id = figure".to_owned(),
            };
            vec![field.key.to_owned(), takes, field.words.to_owned()]
        })
        .collect();
    let hint = format!(
        "nothing was added; give some of its fields, a --note or a --photo:\n{}",
        columns(&rows, 100, 4).trim_end()
    );
    Failure::CommandLine { message: format!("a {} says:", log::kind_words(kind)), hint }
}

fn told(wrong: &[log::FormProblem]) -> Failure {
    let lines: Vec<String> = wrong.iter().map(ToString::to_string).collect();
    Failure::CommandLine { message: lines.join("\n"), hint: "nothing was added".to_owned() }
}

fn record(options: &LogAdd, project: Option<&project::Project>) -> Result<Record, Failure> {
    let mut typed = Vec::new();
    let mut wrong = Vec::new();
    for field in &options.fields {
        match field.split_once('=') {
            Some((key, text)) => typed.push((key.trim().to_owned(), text.to_owned())),
            None => wrong.push(log::FormProblem { key: field.clone(), reason: "write KEY=TEXT".to_owned() }),
        }
    }
    let dimension_of = |id: &str| {
        let values = &project?.building.values;
        values.key(id).map(|key| values.get(key).dimension)
    };
    let body: Result<Body, _> = log::body(&options.kind, &typed, &dimension_of);
    let body = match body {
        Ok(body) if wrong.is_empty() => body,
        other => {
            wrong.extend(other.err().unwrap_or_default());
            return Err(told(&wrong));
        }
    };
    let id = options.id.clone().unwrap_or_else(log::fresh_id);
    let time = options.time.clone().unwrap_or_else(log::now_here);
    let mut record = Record::new(id, time, body);
    record.head.place.clone_from(&options.place);
    let of_book = project.map(|p| p.building.project.stage.clone()).unwrap_or_default();
    record.head.stage = options.stage.clone().unwrap_or(of_book);
    record.head.about.clone_from(&options.about);
    record.head.note.clone_from(&options.note);
    record.head.corrects.clone_from(&options.corrects);
    record.head.instrument = options.instrument.as_ref().map(|mark| Instrument {
        id: mark.clone(),
        calibrated: options.calibrated.clone(),
        uncertainty: options.uncertainty.clone(),
    });
    Ok(record)
}

fn list(options: &LogList, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    let listing = log::read(folder.root()).map_err(fail)?;
    for lost in &listing.unreadable {
        terminal.say(&format!("record {} cannot be read here, and is kept: {}\n", lost.line, lost.message));
    }
    let fits = |entry: &&Entry| {
        let head = &entry.record.head;
        let of = |wanted: &Option<String>, is: &str| wanted.as_deref().is_none_or(|w| w == is);
        of(&options.kind, entry.record.body.kind())
            && of(&options.stage, &head.stage)
            && options.place.as_deref().is_none_or(|p| head.place.to_lowercase().contains(&p.to_lowercase()))
            && options.since.as_deref().is_none_or(|day| head.client_time.get(..10).is_some_and(|d| d >= day))
    };
    let entries: Vec<&Entry> = listing.entries.iter().filter(fits).collect();
    if options.json {
        print_json(terminal, &entries.iter().map(|e| entry_json(e)).collect())?;
        return Ok(Ended::Well);
    }
    let rows: Vec<Vec<String>> = entries.iter().map(|e| row(e)).collect();
    terminal.print(&columns(&rows, terminal.width(), 0))?;
    terminal.say(&format!("{}\n", count(entries.len(), "record")));
    Ok(Ended::Well)
}

fn row(entry: &Entry) -> Vec<String> {
    let head = &entry.record.head;
    let day = head.client_time.get(..10).unwrap_or_default();
    let mut said = log::sentence(&entry.record);
    if !head.place.is_empty() {
        said = format!("{}: {said}", head.place);
    }
    if !head.attachments.is_empty() {
        said = format!("{said} [{}]", count(head.attachments.len(), "file"));
    }
    if entry.disputed {
        said = format!("{said} [another record has this id]");
    }
    vec![
        entry.number.to_string(),
        day.to_owned(),
        clean(&log::kind_words(entry.record.body.kind())),
        clean(&head.name),
        clean(&said),
    ]
}

fn show(options: &LogShow, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    let found = log::read(folder.root()).map_err(fail)?.named(&options.record);
    if found.is_empty() {
        return Err(Failure::CommandLine {
            message: format!("no record, or several, answer to \"{}\"", options.record),
            hint: "give its number or more of its id: windtight log list".to_owned(),
        });
    }
    if options.json {
        print_json(terminal, &found.iter().map(entry_json).collect())?;
        return Ok(Ended::Well);
    }
    for entry in &found {
        let head = &entry.record.head;
        let mut rows = vec![
            vec![
                "record".to_owned(),
                format!("{}, {}", entry.number, log::kind_words(entry.record.body.kind())),
            ],
            vec!["says".to_owned(), clean(&log::sentence(&entry.record))],
        ];
        let mut put = |key: &str, text: &str| {
            if !text.is_empty() {
                rows.push(vec![key.to_owned(), clean(text)]);
            }
        };
        put("when", &head.client_time);
        put("received", head.server_time.as_deref().unwrap_or_default());
        put("who", &head.name);
        put("place", &head.place);
        put("stage", &head.stage);
        put("about", head.about.as_deref().unwrap_or_default());
        put("corrects", head.corrects.as_deref().unwrap_or_default());
        if let Some(instrument) = &head.instrument {
            let parts =
                [Some(&instrument.id), instrument.calibrated.as_ref(), instrument.uncertainty.as_ref()];
            put("instrument", &parts.into_iter().flatten().cloned().collect::<Vec<_>>().join(", "));
        }
        for attachment in &head.attachments {
            let parts =
                [&attachment.file_name, &attachment.media_type, &attachment.caption, &attachment.sha256];
            let taken = attachment.taken.as_ref().map(|t| format!("taken {t}")).unwrap_or_default();
            let said: Vec<&str> = parts
                .into_iter()
                .map(String::as_str)
                .chain([taken.as_str()])
                .filter(|p| !p.is_empty())
                .collect();
            put("file", &said.join(", "));
        }
        put("id", &head.id);
        put("hash", &entry.hash);
        if entry.disputed {
            put("but", "another record has this id and says something else");
        }
        terminal.print(&columns(&rows, terminal.width(), 0))?;
    }
    Ok(Ended::Well)
}

fn export(options: &LogExport, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    let exported = log::export(folder.root(), &options.to, options.originals).map_err(fail)?;
    let manifest = &exported.manifest;
    if options.json {
        let value = serde_json::to_value(manifest).map_err(|e| Failure::Internal(e.to_string()))?;
        return print_json(terminal, &value).map(|()| Ended::Well);
    }
    terminal.print(&format!(
        "{}: {}, {}\n",
        exported.folder.display(),
        count(manifest.records, "record"),
        count(manifest.files.len(), "file")
    ))?;
    if !manifest.left_out.is_empty() {
        let text = format!(
            "{} could not go along: no safe copy can be made, or the original is not here",
            count(manifest.left_out.len(), "file")
        );
        terminal.say(&format!("{text}\n"));
    }
    Ok(Ended::Well)
}

fn import(options: &LogImport, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    let log = log::Log::open(&folder).map_err(fail)?;
    let from: PathBuf = options.from.clone();
    let brought = log.import(&from).map_err(fail)?;
    if options.json {
        let value = json!({
            "kept": brought.kept, "already": brought.already, "beside": brought.beside, "files": brought.files,
        });
        return print_json(terminal, &value).map(|()| Ended::Well);
    }
    let mut text = format!(
        "{} taken in with {}, {} here already\n",
        count(brought.kept + brought.beside, "record"),
        count(brought.files, "file"),
        brought.already
    );
    if brought.beside > 0 {
        text.push_str(&format!("{} share an id with other content: all are kept\n", brought.beside));
    }
    terminal.print(&text)?;
    Ok(Ended::Well)
}

fn verify(options: &LogVerify, terminal: &Terminal) -> Result<Ended, Failure> {
    let folder = folder(&options.dir)?;
    let verdict = log::verify(folder.root()).map_err(fail)?;
    terminal.print(&format!(
        "{} and {} looked at, {} wrong\n",
        count(verdict.records, "record"),
        count(verdict.originals, "original"),
        verdict.wrong.len()
    ))?;
    for wrong in &verdict.wrong {
        terminal.print(&format!("  {wrong}\n"))?;
    }
    for missing in &verdict.missing {
        terminal.print(&format!("  original {missing} is not here\n"))?;
    }
    for warning in log::warnings(folder.root()) {
        terminal.say(&terminal.paragraph(&warning, ""));
    }
    Ok(if verdict.wrong.is_empty() { Ended::Well } else { Ended::NotMet })
}
