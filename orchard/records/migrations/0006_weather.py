"""Weather comes in: stations, their days, readings, forecasts."""

from __future__ import annotations

import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0005_second_look_says_why'),
    ]

    operations = [
        migrations.CreateModel(
            name='Station',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, verbose_name='name')),
                ('sort', models.CharField(choices=[('own', "the orchard's own station"), ('record', 'a record kept elsewhere')], default='record', max_length=8, verbose_name='what it is')),
                ('source', models.CharField(max_length=200, verbose_name='where its figures come from')),
                ('elevation_m', models.IntegerField(blank=True, null=True, verbose_name='height above the sea, m')),
                ('made_at', models.DateTimeField()),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('orchard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stations', to='records.orchard')),
            ],
        ),
        migrations.CreateModel(
            name='Intake',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sort', models.CharField(choices=[('days', 'days measured'), ('forecast', 'a forecast')], max_length=8)),
                ('file_name', models.CharField(max_length=120)),
                ('columns', models.JSONField(default=dict)),
                ('days', models.PositiveIntegerField(default=0)),
                ('taken_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('orchard', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.orchard')),
                ('station', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='intakes', to='records.station')),
            ],
        ),
        migrations.CreateModel(
            name='WeatherDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('correction_reason', models.CharField(blank=True, max_length=500)),
                ('superseded_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500)),
                ('on', models.DateField(verbose_name='day')),
                ('tmin', models.FloatField(blank=True, null=True, verbose_name='lowest, °C')),
                ('tmax', models.FloatField(blank=True, null=True, verbose_name='highest, °C')),
                ('tmean', models.FloatField(blank=True, null=True, verbose_name='mean, °C')),
                ('rain_mm', models.FloatField(blank=True, null=True, verbose_name='rain, mm')),
                ('rh_mean', models.FloatField(blank=True, null=True, verbose_name='mean humidity, %')),
                ('rh_min', models.FloatField(blank=True, null=True, verbose_name='lowest humidity, %')),
                ('rh_max', models.FloatField(blank=True, null=True, verbose_name='highest humidity, %')),
                ('dew_point', models.FloatField(blank=True, null=True, verbose_name='dew point, °C')),
                ('wind_2m', models.FloatField(blank=True, null=True, verbose_name='wind at 2 m, m/s')),
                ('sunshine_hours', models.FloatField(blank=True, null=True, verbose_name='sunshine, h')),
                ('solar', models.FloatField(blank=True, null=True, verbose_name='sunlight, MJ/m²')),
                ('row_number', models.PositiveIntegerField(blank=True, null=True)),
                ('written', models.JSONField(blank=True, default=dict)),
                ('flags', models.JSONField(blank=True, default=dict)),
                ('received_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='records.weatherday')),
                ('intake', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='rows', to='records.intake')),
                ('station', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='days', to='records.station')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='Forecast',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('for_on', models.DateField(verbose_name='for the day')),
                ('made_at', models.DateTimeField(verbose_name='made')),
                ('source', models.CharField(max_length=120, verbose_name='whose forecast')),
                ('tmin', models.FloatField(blank=True, null=True, verbose_name='lowest')),
                ('tmax', models.FloatField(blank=True, null=True, verbose_name='highest')),
                ('dew_point', models.FloatField(blank=True, null=True, verbose_name='dew point')),
                ('wind', models.FloatField(blank=True, null=True, verbose_name='wind')),
                ('cloud', models.FloatField(blank=True, null=True, verbose_name='cloud, % of the sky')),
                ('rain_mm', models.FloatField(blank=True, null=True, verbose_name='rain')),
                ('row_number', models.PositiveIntegerField(blank=True, null=True)),
                ('written', models.JSONField(blank=True, default=dict)),
                ('received_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('orchard', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='forecasts', to='records.orchard')),
                ('intake', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='records.intake')),
            ],
            options={
                'indexes': [models.Index(fields=['orchard', 'for_on', 'made_at', 'id'], name='records_for_orchard_4ad097_idx')],
                'constraints': [models.CheckConstraint(condition=models.Q(('tmin', None), models.Q(('tmin__gte', -90.0), ('tmin__lte', 60.0)), _connector='OR'), name='forecast_tmin_possible'), models.CheckConstraint(condition=models.Q(('tmax', None), models.Q(('tmax__gte', -90.0), ('tmax__lte', 60.0)), _connector='OR'), name='forecast_tmax_possible'), models.CheckConstraint(condition=models.Q(('dew_point', None), models.Q(('dew_point__gte', -90.0), ('dew_point__lte', 60.0)), _connector='OR'), name='forecast_dew_point_possible'), models.CheckConstraint(condition=models.Q(('wind', None), models.Q(('wind__gte', 0.0), ('wind__lte', 100.0)), _connector='OR'), name='forecast_wind_possible'), models.CheckConstraint(condition=models.Q(('cloud', None), models.Q(('cloud__gte', 0.0), ('cloud__lte', 100.0)), _connector='OR'), name='forecast_cloud_possible'), models.CheckConstraint(condition=models.Q(('rain_mm', None), models.Q(('rain_mm__gte', 0.0), ('rain_mm__lte', 2000.0)), _connector='OR'), name='forecast_rain_mm_possible'), models.CheckConstraint(condition=models.Q(('tmin', None), ('tmax', None), ('tmin__lte', models.F('tmax')), _connector='OR'), name='forecast_tmin_below_tmax')],
            },
        ),
        migrations.CreateModel(
            name='Reading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('correction_reason', models.CharField(blank=True, max_length=500)),
                ('superseded_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('withdrawn_reason', models.CharField(blank=True, max_length=500)),
                ('what', models.CharField(choices=[('now', 'as it stands now'), ('lowest', 'lowest of the night'), ('highest', 'highest of the day')], max_length=8, verbose_name='what was read')),
                ('at', models.DateTimeField(verbose_name='when')),
                ('on', models.DateField()),
                ('celsius', models.FloatField(verbose_name='temperature')),
                ('dew_point', models.FloatField(blank=True, null=True, verbose_name='dew point')),
                ('calm_clear', models.BooleanField(blank=True, null=True, verbose_name='still and clear night')),
                ('note', models.CharField(blank=True, max_length=500, verbose_name='note')),
                ('received_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='records.reading')),
                ('orchard', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='records.orchard')),
                ('spot', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='records.spot')),
                ('withdrawn_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['orchard', '-on', '-id'], name='records_rea_orchard_786db0_idx')],
                'constraints': [models.CheckConstraint(condition=models.Q(('corrects', None), models.Q(('correction_reason', ''), _negated=True), _connector='OR'), name='reading_correction_explained'), models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', '')), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False), models.Q(('withdrawn_reason', ''), _negated=True)), _connector='OR'), name='reading_withdrawal_whole'), models.CheckConstraint(condition=models.Q(('what__in', ['now', 'lowest', 'highest'])), name='reading_what_known'), models.CheckConstraint(condition=models.Q(('celsius', None), models.Q(('celsius__gte', -90.0), ('celsius__lte', 60.0)), _connector='OR'), name='reading_celsius_possible'), models.CheckConstraint(condition=models.Q(('dew_point', None), models.Q(('dew_point__gte', -90.0), ('dew_point__lte', 60.0)), _connector='OR'), name='reading_dew_point_possible')],
            },
        ),
        migrations.AddConstraint(
            model_name='station',
            constraint=models.UniqueConstraint(models.F('orchard'), django.db.models.functions.text.Lower('name'), name='station_name_once_per_orchard'),
        ),
        migrations.AddConstraint(
            model_name='station',
            constraint=models.CheckConstraint(condition=models.Q(('sort__in', ['own', 'record'])), name='station_sort_known'),
        ),
        migrations.AddConstraint(
            model_name='station',
            constraint=models.CheckConstraint(condition=models.Q(('elevation_m', None), models.Q(('elevation_m__gte', -450), ('elevation_m__lte', 9000)), _connector='OR'), name='station_elevation_m_possible'),
        ),
        migrations.AddIndex(
            model_name='intake',
            index=models.Index(fields=['orchard', '-taken_at', '-id'], name='records_int_orchard_2b12d6_idx'),
        ),
        migrations.AddConstraint(
            model_name='intake',
            constraint=models.CheckConstraint(condition=models.Q(('sort__in', ['days', 'forecast'])), name='intake_sort_known'),
        ),
        migrations.AddConstraint(
            model_name='intake',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('sort', 'days'), ('station__isnull', False)), models.Q(('sort', 'forecast'), ('station', None)), _connector='OR'), name='intake_days_have_a_station'),
        ),
        migrations.AddIndex(
            model_name='weatherday',
            index=models.Index(fields=['station', 'on', '-id'], name='records_wea_station_493791_idx'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('corrects', None), models.Q(('correction_reason', ''), _negated=True), _connector='OR'), name='weatherday_correction_explained'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('withdrawn_at', None), ('withdrawn_by', None), ('withdrawn_reason', '')), models.Q(('withdrawn_at__isnull', False), ('withdrawn_by__isnull', False), models.Q(('withdrawn_reason', ''), _negated=True)), _connector='OR'), name='weatherday_withdrawal_whole'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.UniqueConstraint(condition=models.Q(('superseded_at', None), ('withdrawn_at', None)), fields=('station', 'on'), name='weatherday_once_per_station'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('tmin', None), models.Q(('tmin__gte', -90.0), ('tmin__lte', 60.0)), _connector='OR'), name='weatherday_tmin_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('tmax', None), models.Q(('tmax__gte', -90.0), ('tmax__lte', 60.0)), _connector='OR'), name='weatherday_tmax_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('tmean', None), models.Q(('tmean__gte', -90.0), ('tmean__lte', 60.0)), _connector='OR'), name='weatherday_tmean_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('dew_point', None), models.Q(('dew_point__gte', -90.0), ('dew_point__lte', 60.0)), _connector='OR'), name='weatherday_dew_point_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('rh_mean', None), models.Q(('rh_mean__gte', 0.0), ('rh_mean__lte', 100.0)), _connector='OR'), name='weatherday_rh_mean_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('rh_min', None), models.Q(('rh_min__gte', 0.0), ('rh_min__lte', 100.0)), _connector='OR'), name='weatherday_rh_min_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('rh_max', None), models.Q(('rh_max__gte', 0.0), ('rh_max__lte', 100.0)), _connector='OR'), name='weatherday_rh_max_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('rain_mm', None), models.Q(('rain_mm__gte', 0.0), ('rain_mm__lte', 2000.0)), _connector='OR'), name='weatherday_rain_mm_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('wind_2m', None), models.Q(('wind_2m__gte', 0.0), ('wind_2m__lte', 100.0)), _connector='OR'), name='weatherday_wind_2m_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('sunshine_hours', None), models.Q(('sunshine_hours__gte', 0.0), ('sunshine_hours__lte', 24.0)), _connector='OR'), name='weatherday_sunshine_hours_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('solar', None), models.Q(('solar__gte', 0.0), ('solar__lte', 50.0)), _connector='OR'), name='weatherday_solar_possible'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('tmin', None), ('tmax', None), ('tmin__lte', models.F('tmax')), _connector='OR'), name='weatherday_tmin_below_tmax'),
        ),
        migrations.AddConstraint(
            model_name='weatherday',
            constraint=models.CheckConstraint(condition=models.Q(('rh_min', None), ('rh_max', None), ('rh_min__lte', models.F('rh_max')), _connector='OR'), name='weatherday_rh_min_below_rh_max'),
        ),
    ]
