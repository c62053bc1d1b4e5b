-- lives.orphans: one row per removal whose installation is not known: it has no age, and counts in
-- cost and recurrence only; and whether it was a failure.
-- Reads clean.unpaired (good rows only), clean.impossible, clean.replacements_cells, clean.points.
create or replace table lives.orphans as
select
    r.service_point, r.removed_on, r.hose_id, r.reason as removal_reason, r.mechanism,
    r.last_seen_good_on, r.part_cost, r.labour_cost, r.downtime_h, r.other_cost,
    u.cause, u.installation_no, coalesce(r.reason in ('failed', 'found_failed') or (r.reason = 'removed_degraded'
        and not list_contains($degraded_is_suspension::varchar[], p.application_class)), false) as is_failure,
    r.load_id as removal_load_id, r.source_row as removal_row, r.row_no as removal_no
from clean.replacements_cells as r
join clean.unpaired as u on u.removal_no = r.row_no
join clean.points as p using (point_no)
where r.row_no not in (select row_no from clean.impossible)
order by r.service_point, r.removed_on, r.hose_id, r.reason, r.row_no
