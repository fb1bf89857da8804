//! Works of the demonstration, and of books made for the purpose.

use super::*;
use crate::log::Log;
use crate::source::Folder;
use building::records::{Body, Photo, Record};

fn project(works: &str) -> (tempfile::TempDir, Project) {
    let dir = tempfile::tempdir().expect("a temporary folder");
    crate::demo::MUSIC_SCHOOL.write(dir.path()).expect("written");
    if !works.is_empty() {
        std::fs::write(dir.path().join("works.csv"), works).expect("written");
    }
    let (project, _) = crate::open(dir.path()).expect("a sound project");
    (dir, project)
}

fn date(text: &str) -> Date {
    Date::read(text).expect("a date")
}

#[test]
fn a_start_follows_from_what_comes_before_over_the_weekend() {
    let (_dir, project) = project("");
    let all = schedule(&project);
    let roof = all.iter().find(|a| a.plan.activity.contains("roof")).expect("there");
    // Eight working days from Thursday 18 September end on Monday 29.
    assert_eq!(
        (roof.start, roof.end, roof.derived),
        (Some(date("2025-09-30")), Some(date("2025-10-02")), true)
    );
    let ring = "activity,after\na,b\nb,a\nc,nobody\n";
    let (_dir, project) = self::project(ring);
    assert!(schedule(&project).iter().all(|a| a.start.is_none()));
    let codes: Vec<&str> = findings(&project).iter().map(|f| f.code).collect();
    assert_eq!(codes, ["no-start", "no-start", "unknown", "no-start"]);
}

#[test]
fn a_covering_before_its_photo_or_test_is_a_finding() {
    let works = "activity,trade,start,days,touches,covers,after\n\
        boards,carpentry,2025-09-08,3,,penetration.roof hatch,test\n\
        test,testing,2025-09-10,1,penetration.roof hatch,,\n";
    let (dir, project) = project(works);
    let codes: Vec<&str> = findings(&project).iter().map(|f| f.code).collect();
    assert_eq!(codes, ["order", "before-test", "no-record"]);
    // A photo before the boards settles the record, not the order.
    let log = Log::open(&Folder::open(dir.path()).expect("a folder")).expect("opened");
    let photo = Body::Photo(Photo { proves: "penetration.roof hatch".to_owned(), ..Photo::default() });
    log.append(Record::new("p", "2025-09-03T09:00:00-05:00", photo), Vec::new()).expect("kept");
    drop(log);
    let (project, _) = crate::open(dir.path()).expect("sound");
    let codes: Vec<&str> = findings(&project).iter().map(|f| f.code).collect();
    assert_eq!(codes, ["order", "before-test"]);
    // Boards that were on two days before the photo: the proof is late.
    let early = works.replace("2025-09-08", "2025-09-01").replace("2025-09-10", "2025-08-20");
    std::fs::write(dir.path().join("works.csv"), early).expect("written");
    let (project, _) = crate::open(dir.path()).expect("sound");
    let codes: Vec<&str> = findings(&project).iter().map(|f| f.code).collect();
    assert_eq!(codes, ["late-record"]);
    let on_sheet = crate::standing::standing(&project, &crate::standing::Years::default());
    assert!(on_sheet.findings.iter().any(|f| f.id == "stage.work.1.late-record"));
}

#[test]
fn what_goes_out_as_csv_is_read_again() {
    let (dir, project) = project("");
    let out = csv(&project).expect("text");
    std::fs::write(dir.path().join("works.csv"), &out).expect("written");
    let (again, _) = crate::open(dir.path()).expect("sound");
    assert_eq!(csv(&again).expect("text"), out);
}

#[test]
fn the_calendar_is_folded_and_escaped() {
    let works = "activity,trade,start,days,covers\n\
        \"boards, hall; stair\",carpentry,2025-12-24,2,penetration.conduit sleeves near the post line; penetration.roof hatch\n";
    let (_dir, project) = project(works);
    let out = icalendar(&project);
    assert!(out.contains("SUMMARY:boards\\, hall\\; stair (carpentry)\r\n"), "{out}");
    assert!(out.contains("DTSTART;VALUE=DATE:20251224\r\nDTEND;VALUE=DATE:20251226\r\n"), "{out}");
    assert!(out.split("\r\n").all(|l| l.len() <= 75), "{out}");
    assert!(out.contains("answer due from certifying body"));
    assert_eq!(out, icalendar(&project), "the same bytes");
}

#[test]
fn a_day_says_who_what_and_what_not() {
    let (_dir, project) = project("");
    let sheet = day_sheet(&project, date("2025-09-18"));
    assert_eq!(sheet.on_site.len(), 1);
    assert_eq!(sheet.on_site[0].0, "insulation");
    assert!(
        sheet.keep_open.iter().any(|l| l.contains("joint opening / upper wall")),
        "{:?}",
        sheet.keep_open
    );
    assert!(!sheet.photograph.is_empty());
    assert!(sheet.due.iter().any(|l| l.contains("dropped ceilings")), "{:?}", sheet.due);
    let three_weeks = look_ahead(&project, date("2025-09-03"), 3);
    assert_eq!(three_weeks.len(), 5);
}
