-- The order of travel, in which lists come: a page of it is read without
-- sorting the whole network.

CREATE INDEX bridges_travel ON bridges (route IS NULL, route, milepost, structure_number);
