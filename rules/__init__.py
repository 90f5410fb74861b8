"""What follows from what a club told: physics, facts, rules, findings, scores, plans. `rules.engine.assess` is the way in."""
