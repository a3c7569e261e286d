//! A self-test that was judged, as it is written down: by a proof and by a watch alike.

use super::details::{Details, TestJudged};
use super::draft::Draft;
use crate::proof::SelfTest;

impl Draft {
    /// A self-test as it was judged, with the sentences it rests on; by whom, if that is known.
    pub fn self_test(test: &SelfTest, by: Option<&str>) -> Self {
        let verdict = &test.verdict;
        let mut told = serde_json::to_value(verdict).unwrap_or_default();
        let mut text = verdict.summary();
        if let (Some(rang), Some(told)) = (test.radio_rang, told.as_object_mut()) {
            told.insert("radio_rang".to_owned(), rang.into());
            let said = if rang { "the radio itself rang" } else { "the radio itself did not ring" };
            text = format!("{text}; {said}");
        }
        let details = TestJudged::of(told).map(|test| Details::Test(Box::new(test)));
        Self {
            operator: by.map(str::to_owned),
            mmsi: verdict.mmsi,
            person: verdict.person.clone(),
            sentences: test.sentences.clone(),
            own: test.own,
            range_nm: verdict.range_m.map(|m| (f64::from(m) / 1.852).round() / 1000.0),
            ..Self::outside(details.unwrap_or_default(), text, verdict.ended)
        }
    }
}
