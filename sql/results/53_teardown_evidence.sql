-- results.teardown_evidence: one row per hose taken apart and leading mechanism, the likeliest first.
-- Reads teardown_evidence_frame.
create or replace table results.teardown_evidence as
select
    life_id, hose_id, service_point, removed_on::date as removed_on, examined_on::date as examined_on, rank::integer as rank, mechanism,
    probability, level, string_split(speaks_for, '; ') as speaks_for, string_split(speaks_against, '; ') as speaks_against,
    string_split(open_points, '; ') as open_points, next_check, coverage, n_checked::integer as n_checked, n_present::integer as n_present,
    n_unread::integer as n_unread, logged_mechanism, is_counted, basis
from teardown_evidence_frame
order by service_point, removed_on, hose_id, life_id, rank
