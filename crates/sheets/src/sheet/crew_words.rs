//! Fixed words of the crew pages in English and Spanish: the one table of them.
//!
//! What the builder wrote in the book stays as written; only these words are given twice. The Spanish is that of
//! building sites in North America, written by this tool's authors and not yet read by a native speaker of the trade.

/// English, Spanish.
pub const WORDS: [(&str, &str); 104] = [
    // Headings.
    ("Joint", "Junta"),
    ("Crew page", "Hoja de cuadrilla"),
    ("Where", "Dónde"),
    ("Length", "Longitud"),
    ("Who", "Quién"),
    ("When", "Cuándo"),
    ("Work", "Trabajo"),
    ("Layers to carry across", "Capas que deben continuar"),
    ("With", "Con"),
    ("Lap", "Traslape"),
    ("Before you start", "Antes de empezar"),
    ("Surface", "Superficie"),
    ("Primer", "Imprimación"),
    ("Lowest temperature", "Temperatura mínima"),
    ("Dryness", "Sequedad"),
    ("Wait before covering", "Espera antes de cubrir"),
    ("Sticks to", "Se adhiere a"),
    ("Does not stick to", "No se adhiere a"),
    ("Vapour", "Vapor"),
    ("Sill", "Alféizar"),
    ("Pan", "Bandeja"),
    ("End dams", "Topes laterales"),
    ("Slope", "Pendiente"),
    ("Way out", "Salida del agua"),
    ("Photograph", "Fotografíe"),
    ("Proof", "Prueba"),
    ("Done", "Hecho"),
    ("Date", "Fecha"),
    ("Initials", "Iniciales"),
    ("Temperature", "Temperatura"),
    ("place for the code", "lugar para el código"),
    ("Open", "Pendiente"),
    ("Exceptions", "Excepciones"),
    // States.
    ("not stated", "no indicado"),
    ("yes", "sí"),
    ("missing", "falta"),
    ("none needed", "no hace falta"),
    ("Nobody has said yet. Ask before you build it.", "Nadie lo ha indicado. Pregunte antes de construirlo."),
    ("with the air barrier", "con la barrera de aire"),
    ("the extra loss is counted", "la pérdida adicional está calculada"),
    (
        "Fire- or sound-rated: foam and tape do not close it. Only the tested system, on record, does.",
        "Con clasificación de fuego o sonido: la espuma y la cinta no la cierran. Solo el sistema probado, registrado.",
    ),
    (
        "The tested system is chosen by a licensed designer and the code official, not by this page.",
        "El sistema probado lo eligen el diseñador autorizado y la autoridad de construcción, no esta hoja.",
    ),
    ("outside", "exterior"),
    ("inside", "interior"),
    ("frame", "marco"),
    // Layers.
    ("rain", "lluvia"),
    ("air", "aire"),
    ("vapour", "vapor"),
    ("heat", "calor"),
    // Laps.
    ("upper piece over lower piece", "pieza de arriba sobre la de abajo"),
    ("upper piece behind lower piece: wrong, stop", "pieza de arriba detrás de la de abajo: mal, pare"),
    ("one piece runs past, no lap", "una sola pieza, sin traslape"),
    // Class of work.
    ("careful", "con cuidado"),
    ("ordinary", "normal"),
    ("unknown", "no indicado"),
    // Kinds of product.
    ("tape", "cinta"),
    ("sealant", "sellador"),
    ("liquid", "líquido"),
    ("membrane", "membrana"),
    ("foam", "espuma"),
    ("gasket", "empaque"),
    ("flashing", "tapajuntas"),
    // Trades.
    ("carpentry", "carpintería"),
    ("roofing", "techado"),
    ("masonry", "albañilería"),
    ("electrical", "electricidad"),
    ("plumbing", "plomería"),
    ("insulation", "aislamiento"),
    ("windows", "ventanas"),
    ("drywall", "tablaroca"),
    ("ventilation", "ventilación"),
    // Stages.
    ("survey", "levantamiento"),
    ("design", "diseño"),
    ("order", "pedido"),
    ("repair", "reparación"),
    ("barrier", "barrera"),
    ("rough-in", "instalación en bruto"),
    ("insulate", "aislar"),
    ("close-in", "cierre"),
    ("test", "ensayo"),
    ("commission", "puesta en marcha"),
    ("in use", "en uso"),
    // Kinds of junction.
    ("corner", "esquina"),
    ("inner corner", "esquina interior"),
    ("floor edge", "borde de entrepiso"),
    ("party floor edge", "borde de entrepiso medianero"),
    ("plinth", "base del muro"),
    ("base of wall", "base del muro"),
    ("eaves", "alero"),
    ("high eaves", "alero alto"),
    ("verge", "borde inclinado del techo"),
    ("rake", "borde inclinado del techo"),
    ("ridge", "cumbrera"),
    ("roof edge", "borde del techo"),
    ("party line", "línea medianera"),
    ("roof step", "cambio de nivel del techo"),
    ("inner floor edge", "borde interior de entrepiso"),
    ("threshold", "umbral"),
    // What to photograph when the book does not say.
    ("surface ready, before the joint", "superficie lista, antes de la junta"),
    ("joint finished, with a ruler", "junta terminada, con una regla"),
    ("label of the product", "etiqueta del producto"),
    ("joint about to be covered", "junta antes de cubrirse"),
    ("smoke", "humo"),
    ("photo", "foto"),
];

/// Spanish of a fixed word, if it is one.
pub fn spanish(english: &str) -> Option<&'static str> {
    WORDS.iter().find(|(en, _)| *en == english).map(|(_, es)| *es)
}

#[cfg(test)]
mod tests {
    use super::*;
    use building::control::ControlKind;
    use building::model::JunctionKind;
    use building::plan::{ProductKind, USUAL_STAGES};

    #[test]
    fn every_word_stands_once_and_in_both_languages() {
        for (n, (en, es)) in WORDS.iter().enumerate() {
            assert!(!en.trim().is_empty() && !es.trim().is_empty());
            assert!(WORDS[n + 1..].iter().all(|(other, _)| other != en), "{en} twice");
        }
    }

    #[test]
    fn words_of_the_model_have_their_spanish() {
        let kinds = [
            JunctionKind::Corner,
            JunctionKind::InnerCorner,
            JunctionKind::FloorEdge,
            JunctionKind::PartyFloorEdge,
            JunctionKind::Plinth,
            JunctionKind::Eaves,
            JunctionKind::Verge,
            JunctionKind::Ridge,
            JunctionKind::HighEaves,
            JunctionKind::RoofEdge,
            JunctionKind::PartyLine,
            JunctionKind::RoofStep,
            JunctionKind::InnerFloorEdge,
            JunctionKind::Sill,
            JunctionKind::Threshold,
        ];
        let words = kinds
            .iter()
            .map(|k| building::continuity::edge_word(*k))
            .chain(ControlKind::ALL.iter().map(|c| c.word()))
            .chain(ProductKind::ALL.iter().map(|(word, _)| *word))
            .chain(USUAL_STAGES);
        for word in words {
            assert!(spanish(word).is_some(), "{word}");
        }
    }
}
