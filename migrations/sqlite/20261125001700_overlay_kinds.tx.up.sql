-- Raising a joint with an overlay rebuilds its edges and puts in a new seal between
-- them. A modular joint is no such thing: its beams stand on boxes cast into the
-- deck, and it is replaced as a whole (common practice, no source). An agency that
-- has put in its own treatments keeps them as they are.

UPDATE treatments
   SET for_kinds = 'strip seal; pourable seal; compression seal; preformed gland; foam seal; asphaltic plug; open joint; plate joint; other',
       changed_by = 'upgrade', changed_at = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
 WHERE name = 'raise or rebuild with an overlay' AND source = 'illustrative' AND for_kinds = '';
