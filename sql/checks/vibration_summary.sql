-- Faulty rows: no summary of vibration or more than one, a status without its words, or counts that do not add up over constructions.
select s.status, s.words, s.n_lives, c.n_lives as n_by_construction
from (select count(*) as n, min(status) as status, min(words) as words, min(n_lives) as n_lives from results.vibration_summary) as s
cross join (select sum(n_lives) as n_lives, count(*) as n from results.vibration_constructions) as c
where s.n <> 1 or (s.status = 'none') = (s.words = '') or (s.status = 'none') <> (c.n = 0) or s.n_lives <> c.n_lives
