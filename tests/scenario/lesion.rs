//! Where the CT of a case is opened.

use overwire::anatomy::{Rail, Site, VesselName};
use overwire::records::library;

/// Every case opens where its CT report puts the matter: a lesion that the file gives a place lies there on the ruler; the
/// entry of the dissection is told as four centimetres beyond the left subclavian; the farmer bleeds beside the right internal
/// iliac, 25 mm down it, which the right groin's ruler meets at that height.
#[test]
fn every_case_has_its_lesion_on_the_ruler() {
    for (id, _) in library::BUILT_IN {
        let case = library::case(id).unwrap();
        let place = case.lesion_place();
        let at_mm = place.at_mm;
        let tree = &case.tree;
        match (*id, tree.aorta().wall.lesions.first()) {
            ("pelvic_bleed", _) => {
                assert_eq!(place.leg, Site::RightFemoral);
                let rail = Rail::for_access(tree, place.leg).unwrap();
                let torn = tree.get(VesselName::RightInternalIliac).unwrap().curve.point(25.0);
                assert!((rail.frame(tree, at_mm).at.z - torn.z).abs() < 1.0, "{at_mm}");
            }
            ("branch_malperfusion", _) => {
                let beyond_mm = at_mm - tree.aortic_s_mm(VesselName::LeftSubclavian).unwrap();
                assert!((beyond_mm - 40.0).abs() < 8.0, "{beyond_mm}");
            }
            (_, Some(lesion)) => assert!(lesion.from_mm < at_mm && at_mm < lesion.to_mm, "{id}: {at_mm}"),
            (_, None) => panic!("{id} has no lesion"),
        }
    }
}
