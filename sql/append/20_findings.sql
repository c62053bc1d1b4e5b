-- lives.findings: those of touched places as found again, those of all other places as they were,
-- and those of the logs as a whole.
-- Reads append.touched, base.lives.findings, base.place_stays, lives.place_findings_part,
-- lives.unlisted_parts, lives.returned_rows.
create or replace view lives.findings as
with again as (
    select p.service_point from append.touched as t join base.place_stays as p using (point_no)
)

-- Spelt out: where no place is touched, an unknown place would count as none of them.
select * from base.lives.findings
where service_point is not null and service_point not in (select service_point from again)
union all
select * from lives.place_findings_part where service_point is not null
union all
select * from lives.unlisted_parts
union all
select * from lives.returned_rows
