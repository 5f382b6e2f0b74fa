"""Addresses of the weather: the page, its days, lists read from files, thermometers."""

from django.urls import URLPattern, URLResolver, path

from care.views import thermometers, weather, weather_files

urlpatterns: list[URLPattern | URLResolver] = [
    path("weather/", weather.weather, name="weather"),
    path("weather/thermometers/", thermometers.thermometers, name="thermometers"),
    path("weather/thermometers/add/", thermometers.thermometer_add, name="thermometer_add"),
    path("weather/thermometers/<int:pk>/", thermometers.thermometer_change, name="thermometer_change"),
    path("weather/thermometers/<int:pk>/close/", thermometers.thermometer_close, name="thermometer_close"),
    path("weather/thermometers/<int:pk>/climate/", thermometers.climate, name="climate"),
    path("weather/files/<int:pk>/", weather_files.weather_file, name="weather_file"),
    path("weather/files/<int:pk>/columns/", weather_files.weather_columns, name="weather_columns"),
    path("weather/files/<int:pk>/take/", weather_files.weather_file_take, name="weather_file_take"),
    path(
        "weather/files/<int:pk>/throw-away/",
        weather_files.weather_file_throw_away,
        name="weather_file_throw_away",
    ),
    path("weather/<int:pk>/day/", weather.weather_day, name="weather_day"),
    path("weather/<int:pk>/days/", weather.weather_days, name="weather_days"),
    path("weather/<int:pk>/files/", weather_files.weather_files, name="weather_files"),
    path("weather/<int:pk>/trees/<int:pest>/", weather.weather_trees, name="weather_trees"),
]
