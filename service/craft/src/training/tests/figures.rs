//! Published weights, paths and shares.

use super::super::Beta;
use super::super::progress::{kept_weight, learning_weights, learnt};
use super::{near, training};

#[test]
#[expect(clippy::approx_constant, reason = "as it was published, to six digits")]
fn weights_of_the_learning_test() {
    for (p0, p1, pass, miss) in [
        (0.10, 0.30, 0.251_314, -1.098_612),
        (0.60, 0.80, 0.693_147, -0.287_682),
        (0.40, 0.55, 0.287_682, -0.318_454),
    ] {
        let found = learning_weights(p0, p1);
        near(found.0, pass, 1e-6, "pass");
        near(found.1, miss, 1e-6, "miss");
    }
}

#[test]
fn weights_of_the_watch() {
    let logit = |x: f64| 1.0 / (1.0 + (3.68 - 0.077 * x).exp());
    for (x, held, missed) in [(0.0, -0.0243, 0.6688), (50.0, -0.4333, 0.2598)] {
        near(kept_weight(false, logit(x), 2.0), held, 1e-4, "held");
        near(kept_weight(true, logit(x), 2.0), missed, 1e-4, "missed");
    }
    // As the documentation of a package prints it: -3.67, X 19, no miss, ratio ½.
    let p = 1.0 / (1.0 + (3.67 - 0.077 * 19.0_f64).exp());
    near(kept_weight(false, p, 0.5), 0.050_83, 1e-5, "package");
}

fn results(of: &str) -> impl Iterator<Item = bool> + '_ {
    of.chars().map(|one| one == '1')
}

#[test]
fn a_path_to_a_proposal() {
    let (pass, miss) = learning_weights(0.10, 0.30);
    let mut sum = 0.0;
    let want = [
        0.2513, 0.5026, 0.0, 0.2513, 0.5026, 0.7539, 1.0053, 1.2566, 1.5079, 1.7592, 2.0105,
        0.9119, 1.1632, 1.4145, 1.6658, 1.9172, 2.1685, 2.4198, 2.6711, 2.9224, 3.1737, 3.4250,
        3.6764, 3.9277, 4.1790, 4.4303, 4.6816,
    ];
    let path: Vec<f64> = results("110111111110111111111111111")
        .map(|adequate| {
            sum = learnt(sum, if adequate { pass } else { miss });
            sum
        })
        .collect();
    assert_eq!(path.len(), want.len());
    for (at, (found, want)) in path.iter().zip(want).enumerate() {
        near(*found, want, 0.000_06, &format!("panel {}", at + 1));
    }
    assert_eq!(path.iter().position(|sum| 4.5 <= *sum), Some(26), "proposed with the 27th");
}

#[test]
fn a_path_of_the_watch() {
    let training = training();
    let want = [0.0, 0.0, 1.0986, 0.8473, 0.5960, 1.6946, 1.4433, 2.5419, 2.2906, 2.0393, 3.1379];
    let told = "11011010110010";
    for (at, want) in want.into_iter().enumerate() {
        let kept = training.kept(results(told).take(at + 1));
        near(kept.value, want, 0.000_06, &format!("result {}", at + 1));
        assert_eq!(kept.is_in_doubt, 11 <= at + 1, "result {}", at + 1);
    }
    assert!(
        training.kept(results(told).chain([true; 40])).is_in_doubt,
        "good results clear no doubt"
    );
}

/// Of nobody else's work the watch of healed results is that of practice; where more is lost
/// usually, later results speak later, and never later than for whoever is not ready.
#[test]
fn the_watch_of_healed_results_knows_what_is_usual() {
    let training = training();
    let told = "11011010110010";
    let reached = |usual| {
        (1..=400).find(|at| {
            let results = results(told).chain([false; 400]).take(*at);
            training.kept_healed(usual, 0.0, results).is_in_doubt
        })
    };
    assert_eq!(reached((0, 0)), Some(11));
    let mut before = 0;
    for lost in [0, 10, 20, 40, 100] {
        let at = reached((lost, 100)).expect("in doubt at last");
        assert!(before <= at, "{lost} of 100: {at}");
        before = at;
    }
    assert_eq!(reached((100, 100)), reached((1_000_000, 1_000_000)));
}

#[test]
fn shares_under_a_beta_distribution() {
    // Tumours of rats, 70 groups: mean and deviation of their shares, then 4 of 14.
    let (mean, deviation) = (0.1360_f64, 0.1035_f64);
    let rats = Beta::of(mean, mean * (1.0 - mean) / (deviation * deviation) - 1.0);
    near(rats.a, 1.356, 0.01, "a");
    near(rats.b, 8.615, 0.06, "b");
    near(Beta { a: 1.356, b: 8.615 }.seen(4.0, 14).mean(), 0.2234, 0.000_06, "4 of 14");
    let training = training();
    for (hits, of, mean, low, high) in [(7, 9, 0.789, 0.586, 0.936), (0, 3, 0.615, 0.349, 0.848)] {
        let found = training.shrunk_share(0.8, f64::from(hits) / f64::from(of), of);
        near(found.mean, mean, 0.0006, "mean");
        near(found.interval.low, low, 0.0006, "low");
        near(found.interval.high, high, 0.0006, "high");
    }
    // Of Beta(1, 1) every quantile is its own share; of Beta(2, 1) its root.
    for share in [0.025_f64, 0.5, 0.9] {
        near(Beta { a: 1.0, b: 1.0 }.quantile(share), share, 1e-9, "even");
        near(Beta { a: 2.0, b: 1.0 }.quantile(share), share.sqrt(), 1e-9, "root");
    }
}
