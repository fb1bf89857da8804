//! Lists what a project folder's control layers leave open. Run `cargo run -p project --example joint_gaps -- FOLDER`.

use project::source::Folder;

fn main() {
    let from = std::env::args().nth(1).unwrap_or_default();
    let Ok(folder) = Folder::open(from.as_ref()) else {
        eprintln!("no project folder there");
        return;
    };
    let checked = project::check(&folder);
    print!("{}", checked.report.render(project::diagnostic::Style::default()));
    for gap in checked.project.iter().flat_map(|p| &p.building.gaps) {
        println!("{}\n  {}\n  close: {}", gap.id, gap.sentence, gap.close);
    }
}
