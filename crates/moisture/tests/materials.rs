//! Any numbers given for a material: refused in words or prepared, never a panic, never a silent failure of a run.

mod entry;

use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    #[test]
    fn no_numbers_panic(bytes in prop::collection::vec(any::<u8>(), 0..90)) {
        entry::take_any_material(&bytes);
    }

    #[test]
    fn nearly_sound_numbers_do_not_either(bytes in prop::collection::vec(6_u8..250, 20..90)) {
        entry::take_any_material(&bytes);
    }
}
