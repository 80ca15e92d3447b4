-- A joint is raised or rebuilt when its deck is overlaid. Illustrative as the
-- others; an agency that has put in its own treatments keeps them as they are.

INSERT INTO treatments (name, for_kinds, cost_per_ft_cents, fixed_cents, visit_cents, price_year, source, effect, repairs_share, new_kind, for_findings, only_decided)
SELECT 'raise or rebuild with an overlay', '', 26000, 300000, 600000, 2026, 'illustrative', 'renews', NULL, '', '', 1
 WHERE EXISTS (SELECT 1 FROM treatments WHERE name = 'header rebuild' AND source = 'illustrative');
