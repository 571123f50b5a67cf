"""Published decision problems, solved by `troubleshoot.reasoning.decision`.

A decision with a payoff becomes a remedy: with cost c and a chance to end the problem of
(payoff + c)/P it is worth `payoff` more than the fall-back at price P, whatever c and P. Decided is
decided: the state "done" makes every further remedy dearer than the fall-back.
"""

import numpy as np
import pytest

from troubleshoot.reasoning.decision import FALL_BACK, Problem, exact, one_step, two_steps

TOO_DEAR = 1e9


def payoffs(choices, checks=(), cost=()) -> Problem:
    """Choices (rows of payoffs by hypothesis) against doing nothing for a payoff of 0."""
    choices = np.asarray(choices, dtype=float)
    paid = 1.0 - choices.min()
    price = choices.max() + paid
    n, k = len(choices), len(checks)
    return Problem(
        fixes=(choices + paid) / price,
        remedy_cost=np.array([[paid] * n, [TOO_DEAR] * n]),
        remedy_leaves=np.ones((2, n), dtype=np.intp),
        checks=tuple(np.asarray(c, dtype=float) for c in checks),
        check_cost=np.tile(np.asarray(cost, dtype=float).reshape(1, k), (2, 1)),
        check_leaves=np.tile(np.array([[0], [1]]), (1, k)),
        price=price,
    )


def utility(problem, move) -> float:
    """Expected payoff of a plan that begins with `move`, for weights that sum to 1."""
    return problem.price - move.value


class TestOilWildcatter:
    """Raiffa 1968, "Decision Analysis"; as in Cowell, Dawid, Lauritzen and Spiegelhalter 1999,
    "Probabilistic Networks and Expert Systems", p. 172: best expected utility 22.5, by a seismic
    test at 10, then drilling unless the structure is "none".
    """

    prior = np.array([0.5, 0.3, 0.2])  # dry, wet, soaking
    seismic = np.array([[0.6, 0.3, 0.1], [0.3, 0.4, 0.4], [0.1, 0.3, 0.5]])  # none, open, closed
    drill = ((-70, 50, 200),)

    def test_test_first_then_drill_unless_no_structure(self):
        problem = payoffs(self.drill, [self.seismic], [10])
        for move in (exact(problem, self.prior, 0, [0]), one_step(problem, self.prior, 0, [0])):
            assert move.is_check
            assert utility(problem, move) == pytest.approx(22.5, abs=1e-9)
        then = [exact(problem, row, 0, []).number for row in self.seismic * self.prior]
        assert then == [FALL_BACK, 0, 0]

    @pytest.mark.parametrize(("cost", "taken"), [(12.4, True), (12.6, False)])
    def test_the_test_is_bought_up_to_its_value(self, cost, taken):
        """20 without it and 32.5 with it for nothing: worth 12.5."""
        problem = payoffs(self.drill, [self.seismic], [cost])
        best = exact(problem, self.prior, 0, [0])
        assert best.is_check == taken
        assert utility(problem, best) == pytest.approx(max(20.0, 32.5 - cost), abs=1e-9)

    def test_perfect_information_is_worth_35(self):
        """0.3 x 50 + 0.2 x 200 = 55, against 20."""
        problem = payoffs(self.drill, [np.eye(3)], [0])
        assert utility(problem, exact(problem, self.prior, 0, [0])) == pytest.approx(55.0)
        assert utility(problem, exact(problem, self.prior, 0, [])) == pytest.approx(20.0)


class TestUsedCar:
    """Howard 1977, "The used car buyer": 28 without test or guarantee, 31 with a perfect test at
    25: a lemon is bought with the guarantee (leaves 15), a peach without (leaves 35).
    """

    prior = np.array([0.2, 0.8])  # lemon, peach
    plain = (100 - 200, 100 - 40)
    guarantee = (100 - 60 - 0, 100 - 60 - 20)

    def test_plain_purchase(self):
        problem = payoffs([self.plain])
        assert utility(problem, exact(problem, self.prior, 0, [])) == pytest.approx(28.0)

    def test_best_policy(self):
        problem = payoffs([self.plain, self.guarantee], [np.eye(2)], [25])
        for move in (exact(problem, self.prior, 0, [0]), one_step(problem, self.prior, 0, [0])):
            assert move.is_check
            assert utility(problem, move) == pytest.approx(31.0)
        lemon, peach = (exact(problem, np.eye(2)[h], 0, []) for h in (0, 1))
        assert (lemon.number, peach.number) == (1, 0)
        left = [utility(problem, lemon) - 25, utility(problem, peach) - 25]
        assert left == pytest.approx([15, 35])
        assert np.sqrt(np.dot(self.prior, (np.array(left) - 31) ** 2)) == pytest.approx(8)


class TestChestClinicDecision:
    """Cowell et al. 1999, p. 177-180: X-ray only after a visit to Asia; 47.49.

    The network is that of Lauritzen and Spiegelhalter 1988, JRSS B 50:157-224. Whether the patient
    was in Asia is known, then an X-ray is taken or not, then its result and shortness of breath
    are seen, then hospital or not. Hypotheses: (tuberculosis, lung cancer).
    """

    sick = ((1, 1), (1, 0), (0, 1), (0, 0))
    hospital = (180.0, 120.0, 160.0, 15.0)
    home = (2.0, 4.0, 0.0, 40.0)

    def prior(self, asia):
        tub = 0.05 if asia else 0.01
        lung = 0.5 * 0.10 + 0.5 * 0.01
        return np.array([(tub if t else 1 - tub) * (lung if c else 1 - lung) for t, c in self.sick])

    def breathless(self, t, c):
        """P(dyspnoea | tub, lung), smoking and bronchitis summed out."""
        smoke = [0.5 * (s if c else 1 - s) for s in (0.10, 0.01)]
        bronc = (smoke[0] * 0.6 + smoke[1] * 0.3) / sum(smoke)
        return bronc * 0.9 + (1 - bronc) * 0.7 if t or c else bronc * 0.8 + (1 - bronc) * 0.1

    def value(self, asia, xray):
        prior = self.prior(asia)
        dysp = np.array([[self.breathless(t, c) for t, c in self.sick]])
        seen = np.vstack([dysp, 1 - dysp])
        cost = 0.0
        if xray:
            shade = np.array([[0.98 if t or c else 0.05 for t, c in self.sick]])
            picture = np.vstack([shade, 1 - shade])
            seen = (seen[:, None, :] * picture[None]).reshape(4, 4)
            cost = 10 - prior[2:].sum()  # worth 0 with and 1 without tuberculosis, against 10
        gain = np.subtract(self.hospital, self.home)
        problem = payoffs([gain], [seen], [cost])
        look = next(m for m in problem.moves(prior, 0, [0]) if m.is_check)
        value = utility(problem, look) + prior @ self.home + 10
        admits = [exact(problem, row, 0, []).number != FALL_BACK for row in seen * prior]
        return value, admits

    def test_value_and_policy(self):
        with_it, without = (
            {asia: self.value(asia, xray) for asia in (True, False)} for xray in (True, False)
        )
        assert with_it[True][0] > without[True][0]
        assert with_it[False][0] < without[False][0]
        best = 0.01 * with_it[True][0] + 0.99 * without[False][0]
        assert best == pytest.approx(47.49, abs=5e-3)
        assert without[False][1] == [False, False]  # hospital never
        assert with_it[True][1] == [True, False, True, False]  # hospital if the X-ray shows it


class TestCaseBase:
    """Balakrishnan and Semmelbauer 1999, Decision Support Systems 25, doi
    10.1016/S0167-9236(99)00015-9: five defects and four tests with sure outcomes; the defect is d3.

    Repairs cost so much more than tests that the defect is always told apart first.
    """

    complete = np.array([[0, 0, 0, 0], [0, 0, 0, 1], [0, 0, 1, 1], [0, 1, 1, 1], [1, 1, 1, 1]])
    nan = np.nan
    incomplete = np.array(
        [[nan, nan, nan, 0], [nan, nan, 0, 1], [nan, 0, 1, 1], [0, 1, 1, 1], [1, 1, 1, 1]]
    )
    repair_cost = 100.0

    def problem(self, matrix):
        yes = np.where(np.isnan(matrix), 0.5, matrix).T
        n = len(matrix)
        return Problem(
            fixes=np.eye(n),
            remedy_cost=np.full((1, n), self.repair_cost),
            remedy_leaves=np.zeros((1, n), dtype=np.intp),
            checks=tuple(np.array([1 - y, y]) for y in yes),
            check_cost=np.ones((1, len(yes))),
            check_leaves=np.zeros((1, len(yes)), dtype=np.intp),
            price=10_000.0,
        )

    def trace(self, matrix, order):
        """Candidates after each test that is done before the plan turns to the repair of d3."""
        problem, w, left, out = self.problem(matrix), np.full(5, 0.2), list(range(4)), []
        while (next_ := exact(problem, w, 0, left)).is_check:
            test = order[len(out)] if len(out) < len(order) else next_.number
            left.remove(test)
            w = w * problem.checks[test][self.complete[2, test]]
            out.append((np.flatnonzero(w > 0) + 1).tolist())
        assert next_.number == 2
        return out

    def test_in_the_order_1234_three_tests(self):
        assert self.trace(self.complete, [0, 1, 2, 3]) == [[1, 2, 3, 4], [1, 2, 3], [3]]

    def test_beginning_with_test_2_two_tests(self):
        assert len(self.trace(self.complete, [1])) == 2

    def test_with_unknown_outcomes_four_tests(self):
        assert len(self.trace(self.incomplete, [0, 1, 2, 3])) == 4

    def test_expected_number_of_tests(self):
        """2.4, the length of a Huffman code for five equal shares: no plan asks fewer."""
        problem, w = self.problem(self.complete), np.full(5, 0.2)
        for move in (exact(problem, w, 0, range(4)), two_steps(problem, w, 0, range(4))[0]):
            assert move.value == pytest.approx(self.repair_cost + 2.4)


def test_order_by_probability_over_cost_is_smiths_rule():
    """Weighted completion times 18 and 46 (durations 1 and 3, weights 10 and 2).

    A textbook exercise of one machine and two jobs (the order by weight over duration: Smith
    1956, Naval Research Logistics Quarterly 3:59-66); with weights of 10/12 and 2/12 it is the
    expected cost of two repairs (Kadane and Simon 1977).
    """
    problem = Problem(
        fixes=np.eye(2),
        remedy_cost=np.array([[1.0, 3.0]]),
        remedy_leaves=np.zeros((1, 2), dtype=np.intp),
        checks=(),
        check_cost=np.zeros((1, 0)),
        check_leaves=np.zeros((1, 0), dtype=np.intp),
        price=1000.0,
    )
    w = np.array([10.0, 2.0])
    value, first = problem.repair(w[None], np.array([0]))
    assert (value[0], first[0]) == (pytest.approx(18.0), 0)
    values = {m.number: m.value for m in problem.moves(w, 0, [])}
    assert values[0] == pytest.approx(18.0)
    assert values[1] == pytest.approx(46.0)
    assert exact(problem, w, 0, []).value == pytest.approx(18.0)
