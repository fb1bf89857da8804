//! What the first sheet says, and what it must never say.

#[allow(dead_code, reason = "drawings of the specimen are looked at elsewhere")]
mod specimen;

use project::standing::{FindingKind, Odds, Outcome, Standing};
use sheets::reader::Reader;
use sheets::sheet::where_we_stand;

fn page(standing: &Standing) -> String {
    where_we_stand::content(standing, None, Reader::new(&standing.project.units, "us")).into_string()
}

/// The words of a page as they are read, pictures and marks left out.
fn words(html: &str) -> String {
    let mut out = String::new();
    let mut rest = html;
    while let Some(start) = rest.find('<') {
        out.push_str(&rest[..start]);
        out.push(' ');
        if rest[start..].starts_with("<svg") {
            rest = rest[start..].split_once("</svg>").map_or("", |(_, after)| after);
        } else {
            rest = rest[start..].split_once('>').map_or("", |(_, after)| after);
        }
    }
    out.push_str(rest);
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn no_chance_is_made_up() {
    let standing = specimen::pages::standing("us");
    assert!(standing.limits().all(|f| f.odds.is_none()));
    let html = page(&standing);
    assert!(!html.contains("chances in 100") && !html.contains("tally-"));
    assert!(html.contains("stick-limit-n50"));
}

#[test]
fn computed_chances_are_counted_out() {
    let mut standing = specimen::pages::standing("us");
    standing.findings[0].odds = Some(Odds { p: 0.314, low: 0.25, high: 0.38, n_eff: 900.0 });
    let html = page(&standing);
    assert!(words(&html).contains("31 chances in 100"));
    assert!(!html.contains("stick-limit-n50"), "the tally takes the stick's place");
}

#[test]
fn limits_say_value_limit_margin_and_cause() {
    let si = words(&page(&specimen::pages::standing("si")));
    let us = words(&page(&specimen::pages::standing("us")));
    let limits = |all: &str| {
        let from = all.find("Limits, nearest").unwrap_or_default();
        all[from..].split("Coldest inside spot").next().unwrap_or_default().to_owned()
    };
    insta::assert_snapshot!("limits_si", limits(&si));
    insta::assert_snapshot!("limits_us", limits(&us));
}

#[test]
fn a_value_just_past_its_limit_does_not_look_like_it() {
    let mut standing = specimen::pages::standing("us");
    standing.findings[0].value = Some(0.6004);
    assert!(words(&page(&standing)).contains("0.6 ACH50 (0.6004 1/h to be exact). At most 0.6 ACH50."));
}

#[test]
fn a_limit_without_a_value_shows_none() {
    let all = words(&page(&specimen::pages::standing("si")));
    let tail = all.split("Coldest inside spot").nth(1).unwrap_or_default();
    assert!(tail.trim_start().starts_with("At most 70 %. not known yet"), "{tail}");
}

#[test]
fn everything_open_and_unchecked_is_said() {
    let standing = specimen::pages::standing("us");
    let all = words(&page(&standing));
    let open = standing.findings.iter().filter(|f| f.kind != FindingKind::Limit && f.status != Outcome::Met);
    for sentence in open.map(|f| &f.sentence).chain(&standing.not_checked) {
        assert!(all.contains(sentence.as_str()), "not said: {sentence}");
    }
    for step in &standing.next {
        assert!(all.contains(&step.what), "not said: {}", step.what);
    }
}

#[test]
fn words_of_a_user_stay_words_everywhere() {
    let nasty = "\"><script>alert('x')</script>&amp;";
    let mut standing = specimen::pages::standing("us");
    standing.headline.decision = nasty.into();
    standing.headline.because = nasty.into();
    standing.project.name = nasty.into();
    for stage in &mut standing.stages {
        stage.name = nasty.into();
    }
    for finding in &mut standing.findings {
        finding.subject = nasty.into();
        finding.sentence = nasty.into();
        finding.unit = nasty.into();
        finding.source = nasty.into();
        for cause in &mut finding.causes {
            cause.stated = nasty.into();
        }
    }
    let html = page(&standing);
    assert!(html.contains("&lt;script&gt;"));
    assert!(!html.contains("<script"));
}

#[test]
fn the_present_stage_is_marked_once() {
    let html = page(&specimen::pages::standing("us"));
    assert_eq!(html.matches("aria-current=\"step\"").count(), 1);
}
