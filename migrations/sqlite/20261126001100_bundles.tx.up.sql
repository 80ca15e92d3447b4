-- How many jobs a contract holds: too few draw no bid, too many find no bonded
-- bidder. None: no limit. A plan tells what is outside, and forbids nothing.

ALTER TABLE deliveries ADD COLUMN least_jobs INTEGER CHECK (least_jobs BETWEEN 1 AND 100000);
ALTER TABLE deliveries ADD COLUMN most_jobs INTEGER CHECK (most_jobs BETWEEN 1 AND 100000);
